"""A linear programme that proposes peaks and lengths of days.

Its unknowns are a factor of light for each group of channels that keep their ratio, and by how many
steps both ends of each day move. Doses, light at samples, rises and nights are linear in them around the
present days; a few rounds follow their bends. Of all days that give the doses, the one that moves the least
is taken (`moving_costs`). Doses that can't be had are missed at a high price, so that there is always an
answer: the nearest. The prices of its bounds say what stands against more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.diagnostics.model import Path
from photoperiod.errors import OutsideWorldError
from photoperiod.schedule.model import Schedule
from photoperiod.solve.bounds import Bound, day_bound, light_bound
from photoperiod.solve.moved_day import bounds_of, profile_of
from photoperiod.solve.movers import Mover, groups_of
from photoperiod.solve.moving_costs import moved_costs, tie_costs
from photoperiod.text import extra_text, number_text
from photoperiod.units import (
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
    UMOL_PER_MOL,
)

#: Light is held against limits at moments so far apart [s].
SAMPLE_S = 300

#: Only rises of more than this share of the limit are held against it [share].
STEEP = 0.3

#: Rounds in which days follow the linear programme, free and with whole steps.
ROUNDS = 6

#: Solvers of SciPy, one after the other: prices are so far apart that one may lose its way in rounding.
METHODS = ("highs", "highs-ipm", "highs-ds")

#: What it costs to miss a dose, or a limit, by all of it, beside what it costs to move [ratio].
PRICE_OF_DOSE, PRICE_OF_LIMIT = 1e4, 1e6

#: Where doses fight, the one that may be missed costs this share of the others [ratio].
CHEAP = 0.01

#: A bound with a price above this is one that the answer rests on, in dose per bound.
RESTS = 1e-6

#: Factors that differ by less are the same.
SAME_FACTOR = 1e-7


@dataclass(frozen=True, slots=True)
class State:
    """Factors of light by group, and steps by channel."""

    factors: Mapping[str, float]
    steps: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Proposal:
    """Days that a linear programme proposes.

    Parameters
    ----------
    state : State
        The days.
    missed : mapping of zone to float
        By how much doses are missed before steps are made whole, negative below. [mol m⁻² d⁻¹]
    rests_on : tuple of Bound
        The bounds that the answer rests on.
    """

    state: State
    missed: Mapping[str, float]
    rests_on: tuple[Bound, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the last tables taught.

    Parameters
    ----------
    brightness : mapping of channel to float
        Light at full beside that when PPFD was measured. [ratio]
    light : mapping of channel to ndarray, shape (86400,)
        What the tables of all channels give. [fraction of full]
    bias_s : mapping of channel to float
        By how much the table of a channel that moves gives more than its day. [s at full]
    night_s : mapping of zone to float
        The night that must be kept. [s]
    margins : mapping of (zone, limit) to float
        By how much limits are held tighter, because tables passed them. [unit of the limit]
    rises : mapping of zone to float
        The rise that must not be passed. [µmol m⁻² s⁻¹ per minute]
    """

    brightness: Mapping[str, float]
    light: Mapping[str, Floats]
    bias_s: Mapping[str, float]
    night_s: Mapping[str, float]
    rises: Mapping[str, float]
    margins: Mapping[tuple[str, str], float] = field(default_factory=dict)


def solver() -> Any:
    """Return SciPy's `linprog`.

    Raises
    ------
    OutsideWorldError
        PHO514 if SciPy is not installed.
    """
    try:
        from scipy.optimize import linprog
    except ImportError as error:
        raise OutsideWorldError(
            "PHO514",
            "finding the day for a dose needs a library that is not installed",
            f"{extra_text('solve')}; or take `wanted_dli` out and write the peaks yourself",
        ) from error
    return linprog


def start_of(movers: Mapping[str, Mover]) -> State:
    """Return the days by the file, moved into the bounds."""
    return State(
        {id: _into(1.0, bounds) for id, bounds in groups_of(movers).items()},
        {id: round(_into(0, mover.steps)) for id, mover in movers.items()},
    )


def propose(
    schedule: Schedule,
    movers: Mapping[str, Mover],
    known: Known,
    state: State,
    cheap: str = "",
) -> Proposal:
    """Return the days that are proposed.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    movers : mapping of channel to Mover
        What may move.
    known : Known
        What the last tables taught.
    state : State
        Days to begin with.
    cheap : str
        The zone whose dose is missed first, where not all can be had; empty for none.
    """
    found = _Programme(schedule, movers, known, cheap)
    result = found.solved(state, are_fixed=False)
    missed, rests_on = found.missed(result), found.rests_on(result)
    for _ in range(ROUNDS):
        after = found.state(result)
        if _is_same(after, state):
            break
        state = after
        result = found.solved(state, are_fixed=False)
        missed, rests_on = found.missed(result), found.rests_on(result)
    state = found.state(result)
    for _ in range(ROUNDS):
        after = replace(found.state(found.solved(state, are_fixed=True)), steps=state.steps)
        if _is_same(after, state):
            break
        state = after
    return Proposal(state, missed, rests_on)


def _is_same(a: State, b: State) -> bool:
    return a.steps == b.steps and all(
        abs(a.factors[id] - b.factors[id]) < SAME_FACTOR for id in a.factors
    )


def _into(value: float, bounds: tuple[float, float]) -> float:
    return min(max(value, bounds[0]), bounds[1])


@dataclass(frozen=True, slots=True)
class _Row:
    """One demand: coefficients @ unknowns <= most, missed at a price by no more than ``slack`` says."""

    coefficients: Floats
    most: float
    slack: int
    bound: Bound | None


class _Programme:
    """The linear programme around some days."""

    def __init__(
        self,
        schedule: Schedule,
        movers: Mapping[str, Mover],
        known: Known,
        cheap: str,
    ) -> None:
        self.schedule, self.movers, self.known, self.cheap = schedule, movers, known, cheap
        self.linprog = solver()
        self.groups = list(groups_of(movers))
        self.timed = [id for id, mover in movers.items() if mover.steps[0] < mover.steps[1]]
        self.slacks: list[tuple[str, str, float]] = []  # zone, what is missed, its price
        self.rows: list[_Row] = []
        self.bounds_told: list[tuple[Bound, Bound]] = []

    def _index(self, id: str, *, steps: bool = False) -> int:
        if steps:
            return len(self.groups) + self.timed.index(id)
        return self.groups.index(self.movers[id].group)

    def state(self, result: Any) -> State:
        """Return the days of a result, with whole steps."""
        steps = {id: mover.steps[0] for id, mover in self.movers.items()}
        for id in self.timed:
            at = round(float(result.x[self._index(id, steps=True)]))
            steps[id] = int(_into(at, self.movers[id].steps))
        return State(
            {id: round(float(result.x[at]), 9) for at, id in enumerate(self.groups)}, steps
        )

    def missed(self, result: Any) -> dict[str, float]:
        """Return by how much the doses are missed that zones ask for. [mol m⁻² d⁻¹]"""
        found: dict[str, float] = {}
        first = len(self.groups) + len(self.timed)
        for at, (zone, what, _) in enumerate(self.slacks):
            if what in ("less", "more"):
                sign = -1.0 if what == "less" else 1.0
                found[zone] = found.get(zone, 0.0) + sign * float(result.x[first + at])
        return found

    def rests_on(self, result: Any) -> tuple[Bound, ...]:
        """Return the bounds that a result rests on, without repetition."""
        found = [
            row.bound
            for row, price in zip(self.rows, result.ineqlin.marginals, strict=True)
            if row.bound is not None and -price > RESTS
        ]
        for at, (low, high) in enumerate(self.bounds_told):
            if result.lower.marginals[at] > RESTS:
                found.append(low)
            if -result.upper.marginals[at] > RESTS:
                found.append(high)
        return tuple(dict.fromkeys(found))

    def solved(self, state: State, *, are_fixed: bool) -> Any:
        """Return the result of SciPy for the programme around some days."""
        for kept in (self.slacks, self.rows, self.bounds_told):
            kept.clear()
        self._linearise(state)
        self._moved()
        self._doses()
        self._limits()
        self._nights(state)
        size = len(self.groups) + len(self.timed)
        bounds = self._bounds(state, are_fixed) + [(0.0, math.inf)] * len(self.slacks)
        matrix = np.zeros((len(self.rows), size + len(self.slacks)))
        for at, row in enumerate(self.rows):
            matrix[at, :size] = row.coefficients
            matrix[at, size + row.slack] = -1.0
        slopes = {id: slope for id, (_, slope) in self.light_s.items()}
        ties = tie_costs(self.movers, self.timed, size, slopes)
        cost = np.concatenate((ties, [price for *_, price in self.slacks]))
        most = [row.most for row in self.rows]
        for method in METHODS:
            found = self.linprog(cost, A_ub=matrix, b_ub=most, bounds=bounds, method=method)
            if found.x is not None:
                return found
        # Never: each demand can be missed, each unknown has bounds.
        raise RuntimeError(f"the linear programme ended with: {found.message}")

    def _linearise(self, state: State) -> None:
        """Set the light of the moving channels and how it changes: light in s, and at samples."""
        size = len(self.groups) + len(self.timed)
        self.light_s: dict[str, tuple[float, Floats]] = {}
        self.samples: dict[str, Floats] = {}
        for id, mover in self.movers.items():
            factor, steps = state.factors[mover.group], state.steps[id]
            now = _light_s(mover, factor, steps)
            slope = np.zeros(size)
            more = factor * 1.001 or 0.001
            slope[self._index(id)] = (_light_s(mover, more, steps) - now) / (more - factor)
            base = now - slope[self._index(id)] * factor
            if id in self.timed:
                other = steps + 1 if steps < mover.steps[1] else steps - 1
                per_step = (_light_s(mover, factor, other) - now) / (other - steps)
                slope[self._index(id, steps=True)] = per_step
                base -= per_step * steps
            self.light_s[id] = base + self.known.bias_s.get(id, 0.0), slope
            whole = mover.at(max(factor, 1e-6), steps)
            profile = profile_of(whole)
            assert profile is not None
            seconds = np.arange(0, SECONDS_PER_DAY, SECONDS_PER_MINUTE, dtype=np.float64)
            self.samples[id] = profile.light(seconds) / max(factor, 1e-6)

    def _dose(self, zone: str, *, least: bool = False) -> tuple[float, Floats]:
        """Return the dose of a zone: what does not change, and slopes. [mol m⁻² d⁻¹]"""
        total, slopes = 0.0, np.zeros(len(self.groups) + len(self.timed))
        for id, channel in self.schedule.channels.items():
            ppfd = (channel.least_ppfd if least else channel.full_ppfd).get(zone, 0.0)
            ppfd *= self.known.brightness.get(id, 1.0) / UMOL_PER_MOL
            if id in self.movers:
                base, slope = self.light_s[id]
                total += ppfd * base
                slopes += ppfd * slope
            else:
                total += ppfd * float(self.known.light[id].sum())
        return total, slopes

    def _demand(self, coefficients: Floats, most: float, slack: int, bound: Bound | None) -> None:
        self.rows.append(_Row(coefficients, most, slack, bound))

    def _slack(self, zone: str, what: str, price: float) -> int:
        self.slacks.append((zone, what, price))
        return len(self.slacks) - 1

    def _moved(self) -> None:
        """Let it cost to move light and ends: the one that moves most, and all of them together a little."""
        for moved in moved_costs(self.movers, self.groups, self.timed):
            largest = self._slack("", "moved", moved.price)
            for at, scale in zip(moved.at, moved.scales, strict=True):
                alone = self._slack("", "moved", moved.price_of_each)
                for sign in (scale, -scale):
                    row = np.zeros(len(self.groups) + len(self.timed))
                    row[at] = sign
                    for slack in (largest, alone):
                        self._demand(row, sign * moved.by_file, slack, None)

    def _doses(self) -> None:
        for zone in self.schedule.zones.values():
            asked = zone.wanted_dli
            if asked is not None:
                path = (*zone.path, "wanted_dli")
                told = Bound(f"the dose of '{zone.id}' ({_range(asked)})", path)
                price = PRICE_OF_DOSE / max(asked[0], asked[1], 1e-3)
                price *= CHEAP if zone.id == self.cheap else 1.0
                base, slopes = self._dose(zone.id)
                margin = min(
                    self.known.margins.get((zone.id, "wanted_dli"), 0.0), (asked[1] - asked[0]) / 2
                )
                less, more = (self._slack(zone.id, what, price) for what in ("less", "more"))
                self._demand(-slopes, base - asked[0] - margin, less, told)
                self._demand(slopes, asked[1] - margin - base, more, told)
            if zone.dli_band is not None:
                self._dli(zone.id, zone.dli_band, (*zone.path, "dli"))

    def _dli(self, zone: str, band: tuple[float, float], path: Path) -> None:
        margin = self.known.margins.get((zone, "dli"), 0.0)
        low, high = band
        margin = min(margin, (high - low) / 2)
        price = PRICE_OF_LIMIT / max(high, 1e-3)
        told = Bound(f"`dli` of '{zone}' ({_range(band)})", path)
        base, slopes = self._dose(zone, least=True)
        self._demand(-slopes, base - low - margin, self._slack(zone, "dli", price), told)
        base, slopes = self._dose(zone)
        self._demand(slopes, high - margin - base, self._slack(zone, "dli", price), told)

    def _limits(self) -> None:
        """Hold light and its rises against the limits of zones, at samples."""
        for zone in self.schedule.zones.values():
            if zone.ppfd_max is None and zone.ppfd_rise_per_minute_max is None:
                continue
            base, slopes = self._ppfd(zone.id)
            if zone.ppfd_max is not None:
                margin = self.known.margins.get((zone.id, "ppfd_max"), 0.0)
                slack = self._slack(zone.id, "ppfd_max", PRICE_OF_LIMIT / zone.ppfd_max)
                told = Bound(
                    f"`ppfd_max` of '{zone.id}' ({number_text(zone.ppfd_max)})",
                    (*zone.path, "ppfd_max"),
                )
                every = SAMPLE_S // SECONDS_PER_MINUTE
                for fixed, slope in zip(base[::every], slopes[::every], strict=True):
                    if slope.any():
                        self._demand(slope, zone.ppfd_max - margin - fixed, slack, told)
            most = self.known.rises.get(zone.id)
            if most is not None:
                self._rises(zone.id, most, base, slopes)

    def _rises(self, zone: str, most: float, base: Floats, slopes: Floats) -> None:
        most = max(most - self.known.margins.get((zone, "ppfd_rise_per_minute_max"), 0.0), 1e-6)
        slack = self._slack(zone, "rise", PRICE_OF_LIMIT / most)
        limit = self.schedule.zones[zone].ppfd_rise_per_minute_max or most
        of_file = self.known.rises[zone]
        has = f"; the day in the file rises by {number_text(of_file)}" if of_file > limit else ""
        told = Bound(
            f"`ppfd_rise_per_minute_max` of '{zone}' ({number_text(limit)}{has})",
            ("zones", zone, "ppfd_rise_per_minute_max"),
        )
        rise, slope = np.roll(base, -1) - base, np.roll(slopes, -1, axis=0) - slopes
        now = rise + slope.sum(axis=1)
        for at in np.flatnonzero((now > STEEP * most) & slope.any(axis=1)).tolist():
            self._demand(slope[at], most - float(rise[at]), slack, told)

    def _ppfd(self, zone: str) -> tuple[Floats, Floats]:
        """Return the PPFD of a zone by the minute: what does not change, and slopes by factor."""
        minutes = SECONDS_PER_DAY // SECONDS_PER_MINUTE
        base = np.zeros(minutes)
        slopes = np.zeros((minutes, len(self.groups) + len(self.timed)))
        for id, channel in self.schedule.channels.items():
            ppfd = channel.limit_ppfd.get(zone, 0.0) * self.known.brightness.get(id, 1.0)
            if id in self.movers:
                slopes[:, self._index(id)] += ppfd * self.samples[id]
            else:
                base += ppfd * self.known.light[id][::SECONDS_PER_MINUTE]
        return base, slopes

    def _nights(self, state: State) -> None:
        """Keep the nights of zones: no two days that light one reach too far around the clock."""
        size = len(self.groups) + len(self.timed)
        for zone, night_s in self.known.night_s.items():
            lit = [m for m in self.movers.values() if m.channel.full_ppfd.get(zone)]
            hours = self.schedule.zones[zone].dark_hours_min
            told = Bound(
                f"`dark_hours_min` of '{zone}' ({number_text(hours)} h)",
                ("zones", zone, "dark_hours_min"),
            )
            timed = [m for m in lit if m.id in self.timed]
            if not timed:
                continue
            slack = self._slack(zone, "night", PRICE_OF_LIMIT / SECONDS_PER_DAY)
            for late in lit:
                for early in lit:
                    row = np.zeros(size)
                    for mover in (late, early):
                        if mover.id in self.timed:
                            row[self._index(mover.id, steps=True)] += mover.step_s
                    if not row.any():
                        continue
                    span = bounds_of(late.day)[1] - bounds_of(early.day)[0]
                    margin = self.known.margins.get((zone, "dark_hours_min"), 0.0)
                    room = SECONDS_PER_DAY - night_s - margin * SECONDS_PER_HOUR - span
                    self._demand(row, max(room, 0.0), slack, told)

    def _bounds(self, state: State, are_fixed: bool) -> list[tuple[float, float]]:
        """Return the bounds of all unknowns, and set who made them."""
        found = []
        for group, (low, high) in groups_of(self.movers).items():
            members = [m for m in self.movers.values() if m.group == group]
            floor = max(members, key=lambda m: m.factors[0])
            top = min(members, key=lambda m: m.factors[1])
            self.bounds_told.append((light_bound(floor, "least"), light_bound(top, "most")))
            found.append((min(low, high), max(low, high)))
        for id in self.timed:
            mover = self.movers[id]
            self.bounds_told.append((day_bound(mover, "least"), day_bound(mover, "most")))
            fixed = float(state.steps[id])
            bounds = (float(mover.steps[0]), float(mover.steps[1]))
            found.append((fixed, fixed) if are_fixed else bounds)
        return found


def _range(band: tuple[float, float]) -> str:
    low, high = (number_text(each) for each in band)
    return low if low == high else f"{low} to {high}"


def _light_s(mover: Mover, factor: float, steps: int) -> float:
    """Return the light of a day as it is planned. [s at full]"""
    profile = profile_of(mover.at(factor, steps))
    assert profile is not None
    return profile.integral()
