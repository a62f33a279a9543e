"""Choose what the channels do on a date on which tubes owe burn-in.

The plans of `photoperiod.tubes.burn_in` are compared by the minute. The best of them are fitted and
replayed second by second before one is chosen: rows must hold the day, and no zone may leave its limits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from photoperiod.arrays import Floats
from photoperiod.curves.curve import Curve, day_middles
from photoperiod.drive.zone_light import PPFD_SLACK, full_ppfd_now, zone_ppfd
from photoperiod.program.day_fit import FittedChannel, is_held, ppfd_in
from photoperiod.program.day_types import LEAST_WORTH_A_LOAD_S, DayType
from photoperiod.program.dose import daily_light_integral, longest_run_s
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.text import hours_text, number_text
from photoperiod.tubes.burn_in import (
    TOO_LONG,
    Limits,
    WeighedDay,
    because_of_giving_way,
    dose_fault,
    explained,
    judge,
    possible_plans,
    ppfd_fault,
)
from photoperiod.tubes.burn_in_plan import DayPlan, Window
from photoperiod.tubes.burn_in_windows import MOMENT_S, WeighedChannel, window_around
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
)

#: How often the length of a window is put right by what its table gives.
MOST_LENGTHS = 12

#: A channel whose plan never gives more than this is not run at full: a moonlight would turn night
#: to day for some minutes [fraction of full]. Our choice, no source.
LEAST_PEAK = 0.1

#: How many of the best plans are tried on real tables before the burn-in waits.
MOST_TRIED = 12

#: Two doses that differ by less than this are the same. [s at full]
DOSE_SLACK_S = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnInDate:
    """A date on which tubes owe burn-in.

    Parameters
    ----------
    day_type : DayType
        The day by the plan.
    curves : mapping of channel to Curve
        Light wanted on the date.
    owing : mapping of channel to float
        Hours at full owed by channels that need days at full. [h]
    kept_full : frozenset of str
        Channels that owe and are dark or full by plan.
    brightness : mapping of channel to float
        Light at full as the date begins, beside that when PPFD was measured. [ratio]
    before : mapping of channel to (int, int)
        The windows at full of the day before. [s]
    acclimated : frozenset of str
        Channels whose dose is kept small for a time: what they light gets no more than by the plan.
    """

    day_type: DayType
    curves: Mapping[str, Curve]
    owing: Mapping[str, float]
    kept_full: frozenset[str]
    brightness: Mapping[str, float]
    before: Mapping[str, Window]
    acclimated: frozenset[str] = frozenset()

    @property
    def schedule(self) -> Schedule:
        """The schedule of the day."""
        return self.day_type.schedule


def plan_burn_in(date: BurnInDate) -> DayPlan:
    """Return what the channels do on a date on which some owe burn-in.

    That is the best plan whose tables can be used. The day by the plan, with every debtor dimmed, is
    always possible.
    """
    channels = [_weighed(date, channel) for channel in date.schedule.channels.values()]
    limits = {id: _limits(date, id, channels) for id in date.schedule.zones}
    day = WeighedDay(
        channels,
        limits,
        NIGHT_PPFD_UMOL_M2_S,
        date.schedule.controller.times.step_s,
        frozenset(date.before),
    )
    return _Trials(date, day).best()


class _Trials:
    """Plans of a day that are tried on tables, and why channels are refused that burn in alone."""

    def __init__(self, date: BurnInDate, day: WeighedDay) -> None:
        self.date, self.day = date, day
        self.refused: dict[str, str] = {}

    def best(self) -> DayPlan:
        """Return the first plan, best first, whose tables can be used."""
        found = self._first_that_holds()
        if not found.windows:
            for id in sorted(found.dark | found.dimmed):
                if not self.day.alone[id]:
                    self._try_alone(id)
        return explained(self.day, found, self.refused)

    def _first_that_holds(self) -> DayPlan:
        tried = 0
        for plan in possible_plans(self.day):
            if not plan.windows:
                return plan
            is_hopeless = any(self.refused.get(id) for id in plan.windows)
            if is_hopeless or (tried >= MOST_TRIED and len(plan.windows) > 1):
                continue
            tried += 1
            if not tables_fault(self.date, self.day.limits, plan):
                return plan
            for id in plan.windows:  # a channel that is at fault by itself is not tried again
                self._try_alone(id)
        return self.day.all_dimmed

    def _try_alone(self, id: str) -> None:
        """Find out why the day on which a channel burns in alone can't be used, if it can't."""
        if id not in self.refused:
            plan, why = judge(self.day, self.day.only(id))
            fault = why if plan is None else tables_fault(self.date, self.day.limits, plan)
            self.refused[id] = fault


def tables_fault(date: BurnInDate, limits: Mapping[str, Limits], plan: DayPlan) -> str:
    """Return in words why the tables of a plan can't be used on a date; empty if they can.

    What the tables of a day by the plan do as well is no reason.
    """
    fitted = date.day_type.fitted(plan)
    why = _rows_fault(date, fitted)
    if why:
        return why
    light = {id: each.fit.replay.light for id, each in fitted.items()}
    light_by_plan = {id: each.replay.light for id, each in date.day_type.fits.items()}
    because = because_of_giving_way(plan.scale, plan.windows)
    has_spread = any(channel.ppfd_spread for channel in date.schedule.channels.values())
    for id, limit in limits.items():
        ppfd = ppfd_in(date.schedule, id, light, date.brightness)
        why = dose_fault(id, daily_light_integral(ppfd), limit, because)
        if why:
            return why
        if has_spread:
            ppfd = ppfd_in(date.schedule, id, light, date.brightness, for_limits=True)
        by_plan = ppfd_in(date.schedule, id, light_by_plan, date.brightness, for_limits=True)
        why = _night_fault(date.schedule, id, ppfd, by_plan)
        if why:
            return why
        if limit.ppfd_max is None:
            continue
        most, most_by_plan = float(ppfd.max()), float(by_plan.max())
        if most > max(limit.ppfd_max, most_by_plan) + PPFD_SLACK:
            return ppfd_fault(id, most, limit.ppfd_max, "from the table")
    return ""


def _rows_fault(date: BurnInDate, fitted: Mapping[str, FittedChannel]) -> str:
    held = date.schedule.controller.setpoints_per_channel
    by_plan = date.day_type.by_plan
    for id, each in fitted.items():
        if is_held(by_plan[id], held) and not is_held(each, held):
            return f"{held} rows do not hold the day of '{id}' that this takes"
    return ""


def _night_fault(schedule: Schedule, zone: str, ppfd: Floats, by_plan: Floats) -> str:
    needed_s = schedule.zones[zone].dark_hours_min * SECONDS_PER_HOUR
    night_s = longest_run_s(ppfd < NIGHT_PPFD_UMOL_M2_S)
    if night_s < needed_s <= longest_run_s(by_plan < NIGHT_PPFD_UMOL_M2_S):
        return (
            f"the night of zone '{zone}' would last {hours_text(night_s)}, less than its"
            f" {number_text(needed_s / SECONDS_PER_HOUR)} h"
        )
    return ""


def _weighed(date: BurnInDate, channel: Channel) -> WeighedChannel:
    """Return a channel as the plans of a date are compared."""
    id, day_type, brightness = channel.id, date.day_type, date.brightness[channel.id]
    path = day_type.targets[id].path
    weighed = WeighedChannel(
        id=id,
        ppfd={zone: full_ppfd_now(ppfd, brightness) for zone, ppfd in channel.full_ppfd.items()},
        limit_ppfd={
            zone: full_ppfd_now(spread.limits, brightness)
            for zone, spread in channel.ppfd_spread.items()
        },
        light=day_type.light[id],
        least=0.0 if path.can_be_dark else channel.ballast.curve.floor_light,
        must_not_dim=id in date.kept_full,
    )
    owed_hours = date.owing.get(id, 0.0)
    if owed_hours == 0:
        return weighed
    why = _too_bright_alone(date.schedule, weighed, path.top_light)
    if why:
        return replace(weighed, owed_days=1.0, why=why)
    window, why = find_window(day_type, id, date.curves[id], brightness, date.before.get(id))
    if window is None:
        return replace(weighed, owed_days=1.0, why=why)
    replay = day_type.at_full(id, window).fit.replay
    owed_days = owed_hours * SECONDS_PER_HOUR / float(replay.full.sum())
    return replace(weighed, owed_days=owed_days, window=window, full=replay.light)


def _too_bright_alone(schedule: Schedule, channel: WeighedChannel, top_light: float) -> str:
    """Return why a channel can never be at full, whatever the others do; empty if it can."""
    for id, zone in schedule.zones.items():
        ppfd = channel.most_in(id) * top_light
        if zone.ppfd_max is not None and ppfd > zone.ppfd_max + PPFD_SLACK:
            return ppfd_fault(id, ppfd, zone.ppfd_max, "from it alone")
    return ""


def _limits(date: BurnInDate, zone_id: str, channels: list[WeighedChannel]) -> Limits:
    """Return what a zone may get on a date."""
    zone, light = date.schedule.zones[zone_id], date.day_type.light
    held = (
        date.day_type.held
    )  # what tables give more because tubes have faded is not more of the plan
    mol = MOMENT_S / UMOL_PER_MOL
    measured = (
        (channel.full_ppfd.get(zone_id, 0.0) / held.get(id, 1.0), float(light[id].mean.sum()))
        for id, channel in date.schedule.channels.items()
    )
    now = ((each.ppfd.get(zone_id, 0.0), float(each.light.mean.sum())) for each in channels)
    planned, by_plan_now = mol * zone_ppfd(measured, 0.0), mol * zone_ppfd(now, 0.0)
    limits = Limits.of(zone.ppfd_max, zone.dli_band, planned, by_plan_now)
    lit = (id for id in date.acclimated if date.schedule.channels[id].full_ppfd.get(zone_id))
    return limits.acclimated(planned, by_plan_now) if any(lit) else limits


def find_window(
    day_type: DayType, id: str, curve: Curve, brightness: float, before: Window | None
) -> tuple[Window | None, str]:
    """Return the window at full that holds a channel's dose, or None and why there is none.

    Its table gives at most the plan's dose, and less than one time step at full below it. The window of the
    day before may fall short by some more, so that no load differs from the one before by a minute.

    Parameters
    ----------
    day_type : DayType
        The day by the plan.
    id : str
        The channel.
    curve : Curve
        Light wanted on the date.
    brightness : float
        Light at full beside that when PPFD was measured. [ratio]
    before : (int, int) or None
        The window of the day before: it is kept while no other holds the dose so much better that it is
        worth a load. [s]
    """
    most, path = float(curve.light(day_middles()).max()), day_type.targets[id].path
    if most < LEAST_PEAK:
        return None, (
            f"its plan gives {number_text(most * 100)} % at most, and minutes at full would be a shock"
        )
    if not brightness:
        return None, "it gives no light"
    if not path.can_be_full:
        return None, "its output can't bring it to full"
    step_s = day_type.schedule.controller.times.step_s
    wanted_s = curve.integral() / brightness
    worth_s = step_s + _not_worth_a_load_s(day_type, id, wanted_s)
    if before is not None and 0 <= _short_s(day_type, id, before, wanted_s) < worth_s:
        return before, ""
    short_s = _tried_windows(day_type, id, curve, wanted_s)
    fitting = [window for window, short in short_s.items() if short >= 0]
    if not fitting:
        return None, "its day holds less light than a time step at full"
    best = min(fitting, key=lambda window: short_s[window])
    return (best, "") if short_s[best] < step_s else (None, TOO_LONG)


def _not_worth_a_load_s(day_type: DayType, id: str, wanted_s: float) -> float:
    """Return by how much a window may be too short, and still no load is worth it. [s at full]

    Where days follow the sky, that is what `dated_tables` lets the dose of any table be off.
    """
    if day_type.season is None:
        return LEAST_WORTH_A_LOAD_S
    schedule = day_type.schedule
    dose_error = schedule.dated_tables.of(schedule.channels[id]).dose_error
    return max(LEAST_WORTH_A_LOAD_S, dose_error * wanted_s)


def _tried_windows(
    day_type: DayType, id: str, curve: Curve, wanted_s: float
) -> dict[Window, float]:
    """Return windows around the centre of a curve's light, and by how much each falls short. [s]

    Each next length is put right by what the table of the last one gives, until one holds the dose or
    a length comes again.
    """
    step_s = day_type.schedule.controller.times.step_s
    centre_s = max(curve.parts, key=lambda part: part.integral()).centre_s()
    step_light_s = day_type.targets[id].path.top_light * step_s
    short_s: dict[Window, float] = {}
    steps = int(wanted_s // step_light_s)
    for _ in range(MOST_LENGTHS):
        steps = min(max(steps, 1), SECONDS_PER_DAY // step_s - 1)
        window = window_around(centre_s, steps * step_s, step_s)
        if window in short_s:
            break
        short_s[window] = _short_s(day_type, id, window, wanted_s)
        if 0 <= short_s[window] < step_s:
            break
        steps += int(short_s[window] // step_light_s)
    return short_s


def _short_s(day_type: DayType, id: str, window: Window, wanted_s: float) -> float:
    """Return by how much the light of a window's table falls short of a dose. [s at full]

    Below zero if it is too much, or if the table is never at full.
    """
    replay = day_type.at_full(id, window).fit.replay
    if not replay.full.any():
        return -float(SECONDS_PER_DAY)
    short_s = wanted_s - float(replay.light.sum())
    return 0.0 if abs(short_s) < DOSE_SLACK_S else short_s
