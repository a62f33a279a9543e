"""Days are fitted and played, and held against what zones ask for and must not get."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from photoperiod.days.day_curves import DayCurves
from photoperiod.drive.grid import Row
from photoperiod.drive.kept import kept_while_used
from photoperiod.drive.replay import play, seconds_around
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import Brightness, CompiledDay, ZoneDay, compile_day
from photoperiod.program.day_fit import FittedChannel, fit_day, is_held, plan_targets
from photoperiod.program.found_rows import with_found_rows
from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.model import Schedule, Zone
from photoperiod.schedule.moves import FoundRows
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.row_moves import RowMoves
from photoperiod.solve.movers import Mover
from photoperiod.units import SECONDS_PER_HOUR, UMOL_PER_MOL

#: Seconds of light, doses and rises that differ by less are the same.
SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Trial:
    """Days of some channels, and what their tables give.

    ``days`` are those of the channels that may move, ``fitted`` the tables of all, and ``rows`` what was
    moved in them.
    """

    days: Mapping[str, Ramps]
    day: CompiledDay
    fitted: Mapping[str, FittedChannel]
    rows: tuple[FoundRows, ...] = ()

    def light_s(self, id: str) -> float:
        """Return the light of a channel's table. [s at full]"""
        return self.day.channels[id].full_light_hours.replay * SECONDS_PER_HOUR


class Trials:
    """Fits days of channels that may move; what is not changed is not fitted again.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    brightness : mapping of channel to float
        Light at full on the first date, beside that when PPFD was measured; 1 where it lacks one. [ratio]
    like : Trials or None
        Trials of a schedule that differs in limits and in what may move only: its last tables are known.
    """

    def __init__(
        self, schedule: Schedule, brightness: Mapping[str, float], like: Trials | None = None
    ) -> None:
        self.schedule = schedule
        self.brightness = {id: Brightness(b, b) for id, b in brightness.items()}
        self._known: dict[str, FittedChannel] = {} if like is None else dict(like._known)
        self._before: dict[str, object] = {} if like is None else dict(like._before)
        self._row_moves: dict[str, RowMoves] = {}

    def of(self, days: Mapping[str, Ramps]) -> Trial:
        """Return what the tables of some days give."""
        changed = with_days(self.schedule, days)
        curves = DayCurves(changed).curves(None)
        fresh = plan_targets(changed, curves)
        targets = {
            id: self._known[id].target if self._before.get(id) == curve else fresh[id]
            for id, curve in curves.items()
        }
        fitted = fit_day(changed, targets, self._known)
        # A table that was fitted again for a limit is not that of its target alone.
        self._known = {id: each for id, each in fitted.items() if each.target is targets[id]}
        self._before = {id: curves[id] for id in self._known}
        day = compile_day(changed, curves, fitted, {}, self.brightness)
        return Trial(days, day, fitted)

    def row_moves(self, trial: Trial, ids: Collection[str]) -> dict[str, RowMoves]:
        """Return what single rows of the tables of some channels may do."""
        has_own_times = not self.schedule.controller.shared_times
        for id in ids:
            fitted, known = trial.fitted[id], self._row_moves.get(id)
            if known is None or known.found is not fitted.fit:
                self._row_moves[id] = RowMoves(
                    fitted.target, fitted.fit, has_own_times=has_own_times
                )
        return {id: self._row_moves[id] for id in ids}

    def with_rows(self, trial: Trial, moved: Mapping[str, tuple[Row, ...]]) -> Trial:
        """Return what the tables of a trial give with other rows of some channels."""
        rows = {
            id: FoundRows(channel=id, fitted=trial.fitted[id].fit.rows, moved=each)
            for id, each in moved.items()
        }
        targets = {id: each.target for id, each in trial.fitted.items()}
        fits = with_found_rows(
            targets,
            {id: each.fit for id, each in trial.fitted.items()},
            rows,
            shares_times=self.schedule.controller.shared_times,
        )
        fitted = {id: FittedChannel(targets[id], fits[id]) for id in fits}
        changed = with_days(self.schedule, trial.days)
        curves = {id: c.curve for id, c in trial.day.channels.items()}
        day = compile_day(changed, curves, fitted, {}, self.brightness)
        return Trial(trial.days, day, fitted, tuple(rows.values()))


def with_days(schedule: Schedule, days: Mapping[str, Ramps]) -> Schedule:
    """Return a schedule with other days of some channels."""
    channels = {
        id: replace(channel, day=days[id]) if id in days else channel
        for id, channel in schedule.channels.items()
    }
    return replace(schedule, channels=channels)


def within_of(zone: Zone, trial: Trial, movers: Mapping[str, Mover], share: float) -> float:
    """Return how far the dose of a zone may be outside what it asks for. [mol m⁻² d⁻¹]

    It is half of the largest step of dose that one count at one row of the moving channels makes, or
    ``share`` of the dose, whichever is smaller; nothing where a zone asks for a band.
    """
    low, high = zone.wanted_dli or (0.0, 0.0)
    if high > low:
        return 0.0
    return min(largest_step(zone, trial, movers) / 2, share * low)


def largest_step(zone: Zone, trial: Trial, movers: Mapping[str, Mover]) -> float:
    """Return the largest step of a zone's dose that one count at one row makes. [mol m⁻² d⁻¹]"""
    steps = [
        full_ppfd * count_step_s(c.fit) / UMOL_PER_MOL
        for c, full_ppfd in trial.day.zones[zone.id].sources
        if c.channel.id in movers
    ]
    return max(steps, default=0.0)


@kept_while_used(64)
def count_step_s(found: Fit) -> float:
    """Return the most that one count at one lit row changes the light of a table. [s at full]"""
    most, every_s = 0.0, found.path.levels.every_seconds
    for at, row in enumerate(found.rows):
        if not found.replay.lit[row.second]:
            continue
        count = row.count + (1 if row.count < found.path.top_count else -1)
        rows = (*found.rows[:at], replace(row, count=count), *found.rows[at + 1 :])
        seconds = seconds_around(rows, at, every_s)
        light = play(rows, found.times, found.path.levels, found.path, seconds=seconds).light
        most = max(most, abs(float((light - found.replay.light[seconds]).sum())))
    return most


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A limit that a trial passes: which one of which zone, and by how much, in its unit."""

    zone: str
    limit: str
    by: float


def broken_limits(trial: Trial, asked: Trial, rows_held: int) -> list[Broken]:
    """Return the limits that a trial passes.

    `ppfd_max` and `dli` hold in any case. A night, a rise or the rows of a controller that the day by the
    file does not keep either may stay as bad as they are, not become worse.
    """
    found = []
    for id, z in trial.day.zones.items():
        found += [
            Broken(zone=id, limit=limit, by=by)
            for limit, by in _passed(z, asked.day.zones[id]).items()
            if by > 0
        ]
    for id, each in trial.fitted.items():
        if not is_held(each, rows_held) and is_held(asked.fitted[id], rows_held):
            found.append(Broken(zone="", limit=f"rows of '{id}'", by=1.0))
    return found


def _passed(z: ZoneDay, asked: ZoneDay) -> dict[str, float]:
    """Return by how much a zone passes each of its limits; at most 0 where it keeps them."""
    zone = z.zone
    night_s = min(zone.dark_hours_min * SECONDS_PER_HOUR, asked.night_s)
    passed = {"dark_hours_min": (night_s - z.night_s - SLACK) / SECONDS_PER_HOUR}
    if zone.ppfd_max is not None:
        passed["ppfd_max"] = z.peak_ppfd - zone.ppfd_max - PPFD_SLACK
    if zone.dli_band is not None:
        low, high = zone.dli_band
        passed["dli"] = max(low - z.dli_least, z.dli.replay - high) - SLACK
    if zone.ppfd_rise_per_minute_max is not None:
        most = max(zone.ppfd_rise_per_minute_max, asked.steepest_rise_per_minute)
        passed["ppfd_rise_per_minute_max"] = z.steepest_rise_per_minute - most - SLACK
    return passed


def off_by(dose: float, wanted: tuple[float, float]) -> float:
    """Return how far a dose is outside what is asked for, negative below, 0 inside. [mol m⁻² d⁻¹]"""
    low, high = wanted
    return min(dose - low, 0.0) + max(dose - high, 0.0)
