"""Count the lit and full hours of a tube over dates, and what burn-in it still owes.

Only hours at full pay burn-in. While a tube owes, its channel should be dark or full; a dimmed run
of at most one time step is an edge, allowed and counted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Dimmed:
    """A run during which a tube that owes burn-in was lit but not full."""

    date: dt.date
    second: int
    length_s: int
    owed_hours: float


@dataclass(slots=True)
class Ledger:
    """What happened to one tube over the dates it was run for.

    Parameters
    ----------
    lit_hours : float
        Hours burned, those before the first date included. [h]
    owed_hours : float
        Hours at full still owed. [h]
    full_hours : float
        Hours at full within the dates. [h]
    paid_at : datetime or None
        When the last owed hour was paid; None if nothing was owed or it is not paid yet.
    dimmed : list of Dimmed
        Runs longer than one time step, in order.
    edge_seconds : int
        Seconds in runs of at most one time step. [s]
    """

    lit_hours: float
    owed_hours: float
    full_hours: float = 0.0
    paid_at: dt.datetime | None = None
    dimmed: list[Dimmed] = field(default_factory=list)
    edge_seconds: int = 0

    def run(
        self,
        dates: Iterable[dt.date],
        lit: Bools,
        full: Bools,
        step_s: int,
        fitted: dt.datetime | None = None,
    ) -> Ledger:
        """Add days that are all alike; the ledger itself is changed and returned.

        Parameters
        ----------
        dates : iterable of date
            Days on which the tube's channel does the same, in order.
        lit, full : ndarray, shape (86400,)
            Whether the lamp burns, and whether it runs undimmed, in each second.
        step_s : int
            The controller's time step. [s]
        fitted : datetime or None
            Seconds before this do not count.
        """
        lit_s, full_s = int(lit.sum()), int(full.sum())
        for date in dates:
            begin = _seconds_before(fitted, date)
            if begin >= SECONDS_PER_DAY:
                continue
            if begin == 0 and self.owed_hours <= 0:
                self.lit_hours += lit_s / SECONDS_PER_HOUR
                self.full_hours += full_s / SECONDS_PER_HOUR
                continue
            self._run_day(date, begin, lit, full, step_s)
        return self

    def _run_day(self, date: dt.date, begin: int, lit: Bools, full: Bools, step_s: int) -> None:
        lit_now, full_now = lit.copy(), full & lit
        lit_now[:begin] = full_now[:begin] = False
        paid_s = np.cumsum(full_now)
        owed_s = self.owed_hours * SECONDS_PER_HOUR
        owing = owed_s - (paid_s - full_now) > 1e-6  # what is owed as the second begins
        dimmed = lit_now & ~full_now & owing
        edges = np.diff(np.concatenate(([0], dimmed.astype(np.int8), [0])))
        for start, stop in zip(
            np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True
        ):
            if stop - start <= step_s:
                self.edge_seconds += int(stop - start)
            else:
                owed = (owed_s - paid_s[start]) / SECONDS_PER_HOUR
                self.dimmed.append(Dimmed(date, int(start), int(stop - start), float(owed)))
        if self.owed_hours > 0 and paid_s[-1] >= owed_s - 1e-6:
            second = int(np.searchsorted(paid_s, owed_s - 1e-6)) + 1
            self.paid_at = dt.datetime.combine(date, dt.time()) + dt.timedelta(seconds=second)
        self.owed_hours = max(self.owed_hours - int(paid_s[-1]) / SECONDS_PER_HOUR, 0.0)
        self.lit_hours += int(lit_now.sum()) / SECONDS_PER_HOUR
        self.full_hours += int(paid_s[-1]) / SECONDS_PER_HOUR


def _seconds_before(fitted: dt.datetime | None, date: dt.date) -> int:
    """Return how many seconds of a date have passed before a tube was fitted."""
    if fitted is None:
        return 0
    passed = (fitted - dt.datetime.combine(date, dt.time())).total_seconds()
    return int(min(max(passed, 0), SECONDS_PER_DAY))
