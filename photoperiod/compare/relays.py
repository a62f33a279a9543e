"""Relays that are not as the table has them."""

from __future__ import annotations

import functools
from collections.abc import Iterator

import numpy as np

from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected, band
from photoperiod.compare.levels import lasts
from photoperiod.compare.log_reader import Log, Quantity
from photoperiod.compare.model import Finding, Limits
from photoperiod.text import hours_text


def relay_findings(
    expected: Expected, log: Log, limits: Limits, shift: ClockShift
) -> Iterator[Finding]:
    """Yield PHO607 where a relay is not as the table has it, for longer than records may be late."""
    for (id, quantity), series in log.series.items():
        if quantity is not Quantity.RELAY or id not in expected.table.paths:
            continue
        instants = series.unix_s + shift.at(series.unix_s)
        low, high = band(functools.partial(expected.relay_on, id), instants, limits.time_s)
        wrong = (series.values < low) | (series.values > high)
        lengths = np.append(np.diff(series.unix_s), 0.0)
        if not lasts(wrong, np.where(lengths <= limits.gap_s, lengths, 0.0)):
            continue
        first = int(np.flatnonzero(wrong)[0])
        total = float(lengths[wrong & (lengths <= limits.gap_s)].sum())
        logged, planned = ("closed", "open") if series.values[first] > 0.5 else ("open", "closed")
        yield Finding(
            "PHO607",
            id,
            f"relay {logged} where the table has it {planned}, first at"
            f" {expected.time_text(series.unix_s[first])}; otherwise than the table for {hours_text(total)}"
            " in all",
        )
