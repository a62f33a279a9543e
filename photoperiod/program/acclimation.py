"""Find how much smaller days must be, so that their finished tables give the shares of an acclimation."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from photoperiod.changes.altered_days import Scale
from photoperiod.changes.changed_days import ChangedDays
from photoperiod.curves.curve import Curve
from photoperiod.days.signals import DayFault
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.day_fit import FittedChannel, fit_day, light_path, plan_targets
from photoperiod.schedule.changes import Acclimation
from photoperiod.schedule.model import Schedule
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_DAY

#: A table is looked for whose dose is as near as this to the share [share of the plan's dose]. Our choice.
NEAR = 0.005

#: A dose that is farther from its share is refused [share of the plan's dose]. Our choice.
MOST_OFF = 0.02

#: So many tables are tried for a step.
MOST_TRIALS = 9

#: Scales that differ by less are the same.
SAME_PART = 1e-4

#: Where days follow the sky, their light is compared at moments this far apart [s].
SAMPLE_S = 60

_DAY = dt.timedelta(days=1)

Fitted = Mapping[str, FittedChannel]

#: Gives the tables of day curves; the same ones are fitted once.
FittedTo = Callable[[Mapping[str, Curve]], Fitted]

#: Told of the tables of a step once they are found, so that they are not fitted again.
Keep = Callable[[Mapping[str, Curve], Fitted], None]


@dataclass(frozen=True, slots=True)
class Step:
    """What was found for the dates of one step, by channel.

    ``given_s`` is the dose of the table, or of the light where days follow the sky; ``whole_s`` the same
    without acclimation. [s at full]
    """

    scales: Mapping[str, Scale]
    given_s: Mapping[str, float]
    whole_s: Mapping[str, float]


class TableAcclimator:
    """Finds the scales of each step of the acclimations of a schedule, from the first step on.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    days : ChangedDays
        Its day curves.
    fitted_to : callable
        Gives the tables of the days without acclimation.
    keep : callable
        Gets the tables of each step that was found.
    """

    def __init__(
        self, schedule: Schedule, days: ChangedDays, fitted_to: FittedTo, keep: Keep
    ) -> None:
        self.schedule, self.days, self.fitted_to, self.keep = schedule, days, fitted_to, keep
        self._steps: dict[dt.date, Step] = {}

    def scales(self, date: dt.date) -> Mapping[str, Scale]:
        """Return the scales of the channels that are acclimated on a date.

        Raises
        ------
        DayFault
            PHO810 if no table gives a share.
        """
        return self.step(date).scales

    def step(self, date: dt.date) -> Step:
        """Return the step to which a date belongs; those before it are found first, in order."""
        begin = self._first_alike(self.days.calendar.begin(date) or date)
        missing: list[dt.date] = []
        at: dt.date | None = begin
        while at is not None and at not in self._steps:
            missing.append(at)
            at = self._before(at)
        for each in reversed(missing):
            before = self._before(each)
            self._steps[each] = self._found(each, None if before is None else self._steps[before])
        return self._steps[begin]

    def _first_alike(self, begin: dt.date) -> dt.date:
        """Return where the step of a date really began: dark days may have come in between."""
        now = self.days.calendar.on(begin)
        alike = [each for each in self._earlier(begin) if self.days.calendar.on(each) == now]
        return alike[-1] if alike else begin

    def _before(self, begin: dt.date) -> dt.date | None:
        """Return the begin of the step before, None if the dose before is no share of the same whole."""
        calendar = self.days.calendar
        now = calendar.on(begin)
        for each in self._earlier(begin):
            then = calendar.on(each)
            if then.shares and then.without_acclimation == now.without_acclimation:
                return self._first_alike(each)
        return None

    def _earlier(self, begin: dt.date) -> list[dt.date]:
        """Return the dates before on which something turned while it was acclimated, last first."""
        acclimated = self.days.acclimated(begin)
        firsts = [
            each.first
            for each in self.schedule.changes
            if isinstance(each, Acclimation)
            and each.first <= begin <= each.last
            and acclimated.intersection(each.channels)
        ]
        if not firsts:
            return []
        turns = self.days.calendar.turns(min(firsts) - _DAY, begin)
        return [each for each in reversed(turns) if each < begin]

    def _found(self, begin: dt.date, before: Step | None) -> Step:
        state = self.days.calendar.on(begin)
        trial: _LightTrials | _TableTrials
        if self.schedule.follows_sky:
            trial = _LightTrials(self.schedule, self.days, begin)
        else:
            trial = _TableTrials(self.schedule, self.days, begin, self.fitted_to)
        searches = {
            id: _Search.of(share, trial.whole_s[id], _known(before, id))
            for id, share in state.shares
            if trial.whole_s[id] > 0
        }
        for _ in range(MOST_TRIALS):
            parts = {id: search.next_part for id, search in searches.items()}
            given = trial.given_s(parts)
            for id, search in searches.items():
                search.tell(parts[id], given[id])
            if all(search.is_done for search in searches.values()):
                break
        self._refuse_far(begin, searches)
        found = {id: self._rising(id, search, before) for id, search in searches.items()}
        given = trial.given_s(found)
        self.keep(trial.curves, trial.fitted)
        scales = {id: Scale(part) for id, part in found.items()}
        return Step(scales, {id: given[id] for id in found}, trial.whole_s)

    def _rising(self, id: str, search: _Search, before: Step | None) -> float:
        """Return the best scale of a channel, none that lets its dose fall or rise above the plan's."""
        if search.best_s > search.whole_s:
            return 1.0
        if before is not None and search.best_s < before.given_s.get(id, 0.0):
            return before.scales[id].part
        return search.best_part

    def _refuse_far(self, begin: dt.date, searches: Mapping[str, _Search]) -> None:
        """Raise DayFault for channels whose share no table gives."""
        faults = []
        for id, search in searches.items():
            if abs(search.best_s - search.wanted_s) <= MOST_OFF * search.whole_s:
                continue
            index = next(
                n
                for n, each in enumerate(self.schedule.changes)
                if isinstance(each, Acclimation)
                and id in each.channels
                and each.first <= begin <= each.last
            )
            nearest = number_text(search.best_s / search.whole_s * 100, 1)
            wanted = number_text(search.wanted_s / search.whole_s * 100, 1)
            faults.append(
                Diagnostic(
                    code="PHO810",
                    path=("changes", index, "from_dose_percent"),
                    message=f"on {begin} channel '{id}' should give {wanted} % of its dose, and the nearest"
                    f" that a table gives is {nearest} %",
                    help=f"begin from {nearest} %, or leave the channel out; shade the zone, or raise the"
                    " lamps",
                )
            )
        if faults:
            raise DayFault(faults)


def _known(before: Step | None, id: str) -> tuple[float, float]:
    """Return a scale that surely gives too little, and what it gives. [s at full]"""
    if before is None or id not in before.scales:
        return 0.0, 0.0
    return before.scales[id].part, before.given_s[id]


@dataclass(slots=True)
class _Search:
    """Looks for the scale of one channel whose table gives a dose, between one too small and one too large.

    Doses are in seconds at full.
    """

    wanted_s: float
    whole_s: float
    low: tuple[float, float]
    high: tuple[float, float]
    best_part: float = 1.0
    best_s: float = float("inf")
    tried: int = 0
    on_one_side: int = field(default=0)

    @classmethod
    def of(cls, share: float, whole_s: float, known: tuple[float, float]) -> _Search:
        """Return the search for a share of a dose; ``known`` is a scale below it, and its dose."""
        low = known if known[1] < share * whole_s else (0.0, 0.0)
        return cls(wanted_s=share * whole_s, whole_s=whole_s, low=low, high=(1.0, whole_s))

    @property
    def is_done(self) -> bool:
        """Whether a table is near enough, or none can be nearer."""
        is_near = abs(self.best_s - self.wanted_s) <= NEAR * self.whole_s
        return is_near or self.high[0] - self.low[0] < SAME_PART

    @property
    def next_part(self) -> float:
        """The scale to try next."""
        if self.is_done:
            return self.best_part
        (low, low_s), (high, high_s) = self.low, self.high
        if self.on_one_side >= 2 or high_s <= low_s:
            return (low + high) / 2
        part = low + (high - low) * (self.wanted_s - low_s) / (high_s - low_s)
        return min(max(part, low + SAME_PART / 4), high - SAME_PART / 4)

    def tell(self, part: float, given_s: float) -> None:
        """Learn what the table of a scale gives."""
        off, best_off = abs(given_s - self.wanted_s), abs(self.best_s - self.wanted_s)
        if self.is_done and part == self.best_part:
            self.best_s = given_s  # the others may have changed it a little
            return
        if (off, given_s) < (best_off, self.best_s):
            self.best_part, self.best_s = part, given_s
        side = 1 if given_s > self.wanted_s else -1
        self.on_one_side = self.on_one_side + 1 if side == self.tried else 1
        self.tried = side
        if side > 0:
            self.high = part, given_s
        else:
            self.low = part, given_s


class _TableTrials:
    """Tries scales on finished tables of a date."""

    def __init__(
        self, schedule: Schedule, days: ChangedDays, date: dt.date, fitted_to: FittedTo
    ) -> None:
        self.schedule, self.days, self.date = schedule, days, date
        self.state = days.calendar.on(date)
        self.curves: Mapping[str, Curve] = days.days_of(self.state).curves(date)
        self.fitted: Fitted = fitted_to(self.curves)
        self.whole_s = self._doses()
        self._parts: Mapping[str, float] = dict.fromkeys(self.whole_s, 1.0)

    def given_s(self, parts: Mapping[str, float]) -> dict[str, float]:
        """Return what the tables of scales give. [s at full]"""
        if any(part != self._parts[id] for id, part in parts.items()):
            scales = {id: Scale(part) for id, part in parts.items()}
            before = self.curves
            self.curves = self.days.days_of(self.state, scales).curves(self.date)
            known = {id: each for id, each in self.fitted.items() if self.curves[id] == before[id]}
            new = plan_targets(
                self.schedule, {id: each for id, each in self.curves.items() if id not in known}
            )
            targets = {id: known[id].target if id in known else new[id] for id in self.curves}
            self.fitted = fit_day(self.schedule, targets, known)
            self._parts = {**self._parts, **parts}
        return self._doses()

    def _doses(self) -> dict[str, float]:
        return {id: float(each.fit.replay.light.sum()) for id, each in self.fitted.items()}


class _LightTrials:
    """Tries scales on the light wanted within reach: where days follow the sky, a table serves many dates."""

    def __init__(self, schedule: Schedule, days: ChangedDays, date: dt.date) -> None:
        self.schedule, self.days, self.date = schedule, days, date
        self.state = days.calendar.on(date)
        self.fitted: Fitted = {}
        self.curves: Mapping[str, Curve] = days.days_of(self.state).curves(date)
        self.whole_s = self._doses()

    def given_s(self, parts: Mapping[str, float]) -> dict[str, float]:
        """Return what the light of scales gives. [s at full]"""
        scales = {id: Scale(part) for id, part in parts.items()}
        self.curves = self.days.days_of(self.state, scales).curves(self.date)
        return self._doses()

    def _doses(self) -> dict[str, float]:
        return light_s(self.schedule, self.curves)


def light_s(schedule: Schedule, curves: Mapping[str, Curve]) -> dict[str, float]:
    """Return the light of day curves within reach of the ballasts, by channel. [s at full]"""
    moments = np.arange(SAMPLE_S / 2, SECONDS_PER_DAY, SAMPLE_S)
    found = {}
    for id, curve in curves.items():
        channel = schedule.channels[id]
        most = light_path(schedule, channel).most_light
        light = channel.ballast.curve.reachable(curve.light(moments), most)
        found[id] = float(light.sum()) * SAMPLE_S
    return found
