"""What stands against a dose, taken away, and written so that it stands against it no longer."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from photoperiod.schedule.model import Schedule
from photoperiod.schedule.moves import MayMove
from photoperiod.solve.bounds import Bound
from photoperiod.solve.moved_day import bounds_of
from photoperiod.solve.trial import Trial
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Limits are written in these steps, rounded so that what was found keeps them: PPFD, rises, doses, hours.
PPFD_STEP, RISE_STEP, DOSE_STEP, HOURS_STEP = 1.0, 0.1, 0.1, 0.25

#: Bounds of peaks are written in steps of so much light, and so far from the peak that was found [%].
LIGHT_STEP, LIGHT_ROOM = 5.0, 2.0

#: A dose of another zone is asked for as a band, this wider than what was found on either side [mol m⁻² d⁻¹].
ROOM = 0.01

#: A number that is a whole step but for this is one.
SLACK = 1e-9

#: What is told of limits that protect animals.
IF_THEY_BEAR_IT = "if the animals there bear it"


@dataclass(frozen=True, slots=True)
class WayOut:
    """A schedule in which a bound is another one, and what is written there."""

    schedule: Schedule
    text: str


def without(schedule: Schedule, bound: Bound) -> Schedule | None:
    """Return a schedule without a bound; None if it can't be taken away."""
    match bound.path:
        case ("zones", str(zone), "wanted_dli"):
            return _with_zone(schedule, zone, wanted_dli=None)
        case ("zones", str(zone), "dli"):
            return _with_zone(schedule, zone, dli_band=None)
        case ("zones", str(zone), "ppfd_max"):
            return _with_zone(schedule, zone, ppfd_max=None)
        case ("zones", str(zone), "ppfd_rise_per_minute_max"):
            return _with_zone(schedule, zone, ppfd_rise_per_minute_max=None)
        case ("zones", str(zone), "dark_hours_min"):
            return _with_zone(schedule, zone, dark_hours_min=0.0)
        case ("channels", str(id), "may_move", "peak_light_percent", *_):
            moves = _moves(schedule, id)
            low, high = moves.peak_light or _file_peak(schedule, id)
            end = bound.path[-1]
            if end == "full":
                return None
            free = (0.0 if end != "most" else low, 1.0 if end != "least" else high)
            return _with_moves(schedule, id, peak_light=free)
        case ("channels", str(id), "may_move", "together_with"):
            return _with_moves(schedule, id, peak_light=(0.0, 1.0), together_with="")
        case ("channels", str(id), "may_move", "day_hours", "least" | "most" as end):
            low_s, high_s = _moves(schedule, id).day_s or (0, SECONDS_PER_DAY)
            free_s = (0, high_s) if end == "least" else (low_s, SECONDS_PER_DAY)
            return _with_moves(schedule, id, day_s=free_s)
    return None


def written(schedule: Schedule, bound: Bound, trial: Trial) -> WayOut | None:
    """Return a schedule whose bound lies just so far out that a trial keeps it; None if it has none."""
    zone = trial.day.zones.get(str(bound.path[1]))
    match bound.path:
        case ("zones", str(id), "wanted_dli") if zone is not None:
            band = _down(zone.dli.replay - ROOM, ROOM), _up(zone.dli.replay + ROOM, ROOM)
            text = f"`wanted_dli: {_range(band)}` in zone '{id}'"
            return WayOut(_with_zone(schedule, id, wanted_dli=band), text)
        case ("zones", str(id), "dli") if zone is not None:
            low, high = schedule.zones[id].dli_band or (0.0, math.inf)
            band = (
                min(low, _down(zone.dli_least, DOSE_STEP)),
                max(high, _up(zone.dli.replay, DOSE_STEP)),
            )
            text = f"`dli: {_range(band)}` in zone '{id}', {IF_THEY_BEAR_IT}"
            return WayOut(_with_zone(schedule, id, dli_band=band), text)
        case ("zones", str(id), "ppfd_max" as key) if zone is not None:
            return _limit(schedule, id, key, _up(zone.peak_ppfd, PPFD_STEP))
        case ("zones", str(id), "ppfd_rise_per_minute_max" as key) if zone is not None:
            return _limit(schedule, id, key, _up(zone.steepest_rise_per_minute, RISE_STEP))
        case ("zones", str(id), "dark_hours_min" as key) if zone is not None:
            return _limit(schedule, id, key, _down(zone.night_s / SECONDS_PER_HOUR, HOURS_STEP))
        case ("channels", str(id), "may_move", "day_hours", *_):
            return _day_hours(schedule, id, trial)
        case ("channels", str(id), "may_move", *_):
            return _peak_light(schedule, id, trial)
    return None


def _limit(schedule: Schedule, zone: str, key: str, value: float) -> WayOut:
    text = f"`{key}: {number_text(value)}` in zone '{zone}', {IF_THEY_BEAR_IT}"
    return WayOut(_with_zone(schedule, zone, **{key: value}), text)


def _peak_light(schedule: Schedule, id: str, trial: Trial) -> WayOut:
    """Return bounds of a peak so far apart that a trial's peak, and levels beside it, lie within them."""
    found = max(peak.light for peak in trial.days[id].peaks) * 100
    low, high = (
        round(each * 100, 6) for each in _moves(schedule, id).peak_light or _file_peak(schedule, id)
    )
    if found - LIGHT_ROOM < low:
        low = max(_down(found - LIGHT_ROOM, LIGHT_STEP), 0.0)
    if found + LIGHT_ROOM > high:
        high = min(_up(found + LIGHT_ROOM, LIGHT_STEP), 100.0)
    text = f"`peak_light_percent: {_range((low, high))}` in `may_move` of '{id}'"
    if _moves(schedule, id).together_with:
        text += ", without `together_with`"
    freed = _with_moves(schedule, id, peak_light=(low / 100, high / 100), together_with="")
    return WayOut(freed, text)


def _day_hours(schedule: Schedule, id: str, trial: Trial) -> WayOut:
    start, end = bounds_of(trial.days[id])
    hours = (end - start) / SECONDS_PER_HOUR
    low, high = (each / SECONDS_PER_HOUR for each in _moves(schedule, id).day_s or (start, end))
    band = min(low, _down(hours, HOURS_STEP)), max(high, _up(hours, HOURS_STEP))
    text = f"`day_hours: {_range(band)}` in `may_move` of '{id}'"
    day_s = round(band[0] * SECONDS_PER_HOUR), round(band[1] * SECONDS_PER_HOUR)
    return WayOut(_with_moves(schedule, id, day_s=day_s), text)


def _moves(schedule: Schedule, id: str) -> MayMove:
    moves = schedule.channels[id].may_move
    assert moves is not None, "only what may move has bounds"
    return moves


def _file_peak(schedule: Schedule, id: str) -> tuple[float, float]:
    day: Any = schedule.channels[id].day
    peak = max(each.light for each in day.peaks)
    return peak, peak


def _with_zone(schedule: Schedule, id: str, **values: Any) -> Schedule:
    zones = {**schedule.zones, id: replace(schedule.zones[id], **values)}
    return replace(schedule, zones=zones)


def _with_moves(schedule: Schedule, id: str, **values: Any) -> Schedule:
    channel = schedule.channels[id]
    moved = replace(channel, may_move=replace(_moves(schedule, id), **values))
    return replace(schedule, channels={**schedule.channels, id: moved})


def _down(value: float, step: float) -> float:
    return round(math.floor(value / step + SLACK) * step, 2)


def _up(value: float, step: float) -> float:
    return round(math.ceil(value / step - SLACK) * step, 2)


def _range(band: tuple[float, float]) -> str:
    return f"[{number_text(band[0])}, {number_text(band[1])}]"
