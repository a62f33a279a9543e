"""From doses that zones ask for to days whose finished tables give them.

What a table gives beyond its day is learnt from each trial, and put into the next proposal. The table
decides: only days are found whose tables give the doses and keep every limit.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from photoperiod.days.signals import DayFault
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.digest import digest_of
from photoperiod.schedule.found_text import PLAIN_DECIMALS
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.moves import Found, FoundDay, FoundDose
from photoperiod.solve.bounds import Bound
from photoperiod.solve.moved_day import profile_of, with_lights
from photoperiod.solve.movers import Mover, movers_of
from photoperiod.solve.proposal import Known, Proposal, State, propose, start_of
from photoperiod.solve.refusal import Missed, missed_finding, not_near_finding
from photoperiod.solve.single_rows import SingleRows
from photoperiod.solve.trial import (
    SLACK,
    Broken,
    Trial,
    Trials,
    broken_limits,
    largest_step,
    off_by,
    with_days,
    within_of,
)
from photoperiod.solve.tuning import Tuning
from photoperiod.solve.ways_out import without
from photoperiod.text import and_list, number_text
from photoperiod.units import SECONDS_PER_HOUR

#: Days that are fitted and played at most, beside that of the file.
MOST_TRIALS = 16

#: After so many trials as proposed light is tuned; after so many more, ends of days, too.
PROPOSED_TRIALS, LIGHT_TRIALS = 3, 8

#: So many days more are tried that have the light of the best one and other ends: what its table gives beyond
#: its day is known, which of other coarse levels it is not.
END_TRIALS = 4

#: Rows of a table are moved where doses are off by at most so many of the largest steps of one count, or,
#: where levels are fine, by this share of what is asked for. So many sets of moves are played.
MOST_STEPS, MOST_SHARE, MOST_SETS = 3, 0.005, 3

#: A limit that a table passed is held tighter by this, beside what it was passed by [ratio].
TIGHTER = 1.2

#: At the end of a zone's limits a dose is aimed at by this share of what it may be off by.
AT_END = 0.6

#: Factors of light that differ by less are the same: light is written with up to four decimals of a percent.
SAME_FACTOR = 1e-5

#: A dose is told as missed only if it is by more than this share of it: less is rounding of the programme.
MISSED = 1e-6


@dataclass(frozen=True, slots=True)
class _Judged:
    """A trial, how far its doses are off, how far they may be, and the limits that it passes."""

    trial: Trial
    off: Mapping[str, float]
    within: Mapping[str, float]
    broken: Sequence[Broken]

    @property
    def is_good(self) -> bool:
        return not self.broken and all(
            abs(off) <= self.within[zone] + SLACK for zone, off in self.off.items()
        )

    @property
    def worst(self) -> tuple[int, float]:
        """What makes it worse than others: limits passed, then the dose that is off most."""
        return len(self.broken), max(
            abs(off) / max(self.within[zone], SLACK) for zone, off in self.off.items()
        )


class _NotFound(Exception):
    """Days that give the doses were not found: doses are missed, or the best of some tables is no good."""

    def __init__(self, missed: Sequence[Missed], best: _Judged | None, days: int = 0) -> None:
        super().__init__()
        self.missed, self.best, self.days = missed, best, days


class _Search:
    def __init__(
        self, schedule: Schedule, brightness: Mapping[str, float], like: Trials | None = None
    ) -> None:
        self.schedule, self.brightness = schedule, brightness
        self.movers = movers_of(schedule)
        self.trials = Trials(schedule, brightness, like)
        self.asked = self.trials.of({id: mover.day for id, mover in self.movers.items()})
        self.wanted = {
            id: zone.wanted_dli
            for id, zone in schedule.zones.items()
            if zone.wanted_dli is not None
        }
        self.margins: dict[tuple[str, str], float] = {}

    def found(self) -> _Judged:
        """Return the trial of days that give all doses; raise _NotFound if there are none."""
        judged = self._judged(self.asked)
        if self._file_is_in_bounds():
            met = self._met(judged)
            if met is not None:
                return met
        best, state = judged, start_of(self.movers)
        best_state = state
        tried: list[State] = []
        for number in range(MOST_TRIALS):
            is_fine = number >= PROPOSED_TRIALS and not judged.broken
            from_judged, first = (best, best_state) if is_fine else (judged, state)
            known = self._known(from_judged)
            if not is_fine:
                proposal = propose(self.schedule, self.movers, known, state)
                self._refuse_missed(proposal, known, judged, number)
                first = state = proposal.state
            tuning = Tuning(
                self.schedule,
                self.movers,
                known,
                self._allowed(from_judged),
                from_judged.trial.days,
                moves_ends=number >= PROPOSED_TRIALS + LIGHT_TRIALS,
            )
            chosen = state
            if is_fine or state in tried or not tuning.has_light:
                chosen = tuning.tuned(first, state, tried.__contains__)
            if chosen in tried:
                break
            judged, met = self._tried(tuning, chosen, tried)
            if met is not None:
                return met
            for each in judged.broken:
                key = each.zone, each.limit
                self.margins[key] = self.margins.get(key, 0.0) + each.by * TIGHTER
            if number == 0 or judged.worst < best.worst:
                best, best_state = judged, chosen
        return self._by_ends(best, best_state, tried)

    def plainer(self, judged: _Judged) -> _Judged:
        """Return a trial with rounded light, easier to type, if its tables are the same; else that given."""
        days = {id: self._plain(id, day) for id, day in judged.trial.days.items()}
        if days == judged.trial.days:
            return judged
        trial = self.trials.of(days)
        rows = {id: each.fit.rows for id, each in judged.trial.fitted.items()}
        rows |= {each.channel: each.fitted for each in judged.trial.rows}
        if any(each.fit.rows != rows[id] for id, each in trial.fitted.items()):
            return judged
        if judged.trial.rows:
            moved = {each.channel: each.moved for each in judged.trial.rows}
            trial = self.trials.with_rows(trial, moved)
        plain = self._judged(trial)
        return plain if plain.is_good else judged

    def _plain(self, id: str, day: Ramps) -> Ramps:
        """Return a day with few decimals; one that stays, or whose peak would leave its bounds, as it is."""
        mover = self.movers[id]
        if day == mover.day:
            return day
        lights = [round(peak.light * 100, PLAIN_DECIMALS) / 100 for peak in day.peaks]
        is_in_bounds = _is_in_bounds(mover, max(lights) / mover.peak)
        return with_lights(day, lights) if is_in_bounds else day

    def _by_ends(self, best: _Judged, state: State, tried: list[State]) -> _Judged:
        """Return the trial of the best days with other ends; raise _NotFound if none gives all doses."""
        for _ in range(0 if best.broken else END_TRIALS):
            tuning = Tuning(
                self.schedule,
                self.movers,
                self._known(best),
                self._allowed(best),
                best.trial.days,
                moves_ends=True,
                moves_light=False,
            )
            chosen = tuning.tuned(state, state, tried.__contains__)
            if chosen in tried:
                break
            judged, met = self._tried(tuning, chosen, tried)
            if met is not None:
                return met
            if judged.worst < best.worst:
                best, state = judged, chosen
        raise _NotFound([], best, len(tried) + 1)

    def _tried(
        self, tuning: Tuning, chosen: State, tried: list[State]
    ) -> tuple[_Judged, _Judged | None]:
        """Try days, and return the trial; beside it one that meets the doses, None if none does."""
        tried.append(chosen)
        judged = self._judged(self.trials.of(tuning.days(chosen)))
        return judged, self._met(judged)

    def _met(self, judged: _Judged) -> _Judged | None:
        """Return a trial that meets the doses, if need be by single rows of its tables; None if none does."""
        if judged.is_good:
            return judged
        far = any(
            abs(off)
            > max(
                MOST_STEPS * largest_step(self.schedule.zones[id], judged.trial, self.movers),
                MOST_SHARE * self.wanted[id][1],
            )
            for id, off in judged.off.items()
        )
        if judged.broken or far:
            return None
        tables = self.trials.row_moves(judged.trial, self.movers)
        single = SingleRows(judged.trial, tables, self.wanted, self._allowed(judged))
        for rows in itertools.islice(single.sets(), MOST_SETS):
            moved = self._judged(self.trials.with_rows(judged.trial, rows))
            if moved.is_good:
                return moved
        return None

    def _file_is_in_bounds(self) -> bool:
        """Return whether the days by the file are within the bounds of what may move."""
        return all(
            _is_in_bounds(mover, 1.0) and mover.steps[0] <= 0 <= mover.steps[1]
            for mover in self.movers.values()
        )

    def _judged(self, trial: Trial) -> _Judged:
        share = self.schedule.controller.dose_within
        zones = trial.day.zones
        return _Judged(
            trial,
            {id: off_by(zones[id].dli.replay, wanted) for id, wanted in self.wanted.items()},
            {
                id: within_of(self.schedule.zones[id], trial, self.movers, share)
                for id in self.wanted
            },
            broken_limits(trial, self.asked, self.schedule.controller.setpoints_per_channel),
        )

    def _allowed(self, judged: _Judged) -> dict[str, float]:
        """Return how far doses may be outside what is asked for; of a band, a small part of it."""
        return {
            id: judged.within[id] or (high - low) / 100 for id, (low, high) in self.wanted.items()
        }

    def _known(self, judged: _Judged) -> Known:
        trial, bias = judged.trial, {}
        for id, day in trial.days.items():
            profile = profile_of(day)
            assert profile is not None
            bias[id] = trial.light_s(id) - profile.integral()
        asked = self.asked.day.zones
        # Doses are aimed at the inside of bands, so that a table may be off by a count.
        inside = {(id, "wanted_dli"): (high - low) / 4 for id, (low, high) in self.wanted.items()}
        return Known(
            brightness=self.brightness,
            light={id: c.replay.light for id, c in trial.day.channels.items()},
            bias_s=bias,
            night_s={
                id: min(zone.dark_hours_min * SECONDS_PER_HOUR, asked[id].night_s)
                for id, zone in self.schedule.zones.items()
            },
            rises={
                id: max(zone.ppfd_rise_per_minute_max, asked[id].steepest_rise_per_minute)
                for id, zone in self.schedule.zones.items()
                if zone.ppfd_rise_per_minute_max is not None
            },
            margins=inside | {key: self._margin(key, judged) for key in self.margins},
        )

    def _margin(self, key: tuple[str, str], judged: _Judged) -> float:
        """Return by how much a limit is held tighter.

        A dose may be asked for at the very end of its zone's `dli`: there the limit is not held so tight that
        it stands against the dose itself.
        """
        (id, limit), margin = key, self.margins[key]
        band = self.schedule.zones[id].dli_band if id else None
        if limit != "dli" or band is None or id not in self.wanted:
            return margin
        low, high = self.wanted[id]
        return min(margin, AT_END * judged.within[id] + min(low - band[0], band[1] - high))

    def _refuse_missed(
        self, proposal: Proposal, known: Known, judged: _Judged, number: int
    ) -> None:
        """Raise _NotFound if the nearest days miss a dose by more than a table may be off.

        The table of the file's day says little of others, so that the first proposal is tried in any case.
        """
        if number == 0:
            return
        missed = []
        for zone, (_, high) in self.wanted.items():
            allowed = max(judged.within[zone], MISSED * high)
            if abs(proposal.missed[zone]) <= allowed:
                continue
            # The nearest while all other doses are met, wherever the limits of this one lie.
            free = without(self.schedule, Bound("", ("zones", zone, "dli")))
            assert free is not None
            alone = propose(free, self.movers, known, proposal.state, cheap=zone)
            if abs(alone.missed[zone]) <= allowed:  # its own limits are what stands against it
                alone = proposal
            own = ("zones", zone, "wanted_dli")
            against = [each for each in alone.rests_on if each.path != own]
            missed.append(Missed(zone, alone.missed[zone], against))
        if missed:
            raise _NotFound(missed, None)

    def refused(self, fault: _NotFound) -> list[Diagnostic]:
        """Return the findings on doses that were not found."""
        if fault.best is None:
            return [missed_finding(self.schedule, each, self._look) for each in fault.missed]
        best = fault.best
        off = {id: off / max(best.within[id], SLACK) for id, off in best.off.items()}
        off = dict(sorted(off.items(), key=lambda each: -abs(each[1])))
        passed = sorted({f"`{each.limit}` of '{each.zone}'" for each in best.broken})
        zone = next(iter(off))
        dose = best.trial.day.zones[zone].dli.replay
        why = (
            f"the table of the best of {fault.days} days passes {and_list(passed)}"
            if passed
            else f"the table of the best of {fault.days} days gives {number_text(dose, 4)}, and may be off"
            f" by {number_text(best.within[zone], 4)} (half of what one count at one row makes, or"
            " `dose_within_percent`)"
        )
        return [not_near_finding(self.schedule, best.trial, off, why, self._look)]

    def _look(self, schedule: Schedule) -> Trial | None:
        """Return the trial of days that give the doses of a schedule that is like this one, or None."""
        try:
            return _Search(schedule, self.brightness, self.trials).found().trial
        except (DayFault, _NotFound):
            return None


def _is_in_bounds(mover: Mover, factor: float) -> bool:
    """Return whether a factor of light is within those of a channel."""
    return mover.factors[0] - SAME_FACTOR <= factor <= mover.factors[1] + SAME_FACTOR


def with_found_days(schedule: Schedule, brightness: Mapping[str, float] | None = None) -> Schedule:
    """Return a schedule whose days give the doses that its zones ask for.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults, some zone of which asks for a dose.
    brightness : mapping of channel to float or None
        Light at full on the first date, beside that when PPFD was measured; None for 1. [ratio]

    Returns
    -------
    Schedule
        Its ``found`` says what was found. Its digest is still that of the file.

    Raises
    ------
    DayFault
        If no day gives the doses: what stands against them, and what would free them.
    OutsideWorldError
        PHO514 if SciPy is not installed.
    """
    search = _Search(schedule, brightness or {})
    try:
        judged = search.plainer(search.found())
    except _NotFound as fault:
        raise DayFault(search.refused(fault)) from None
    days: dict[str, Ramps] = dict(judged.trial.days)
    changed = {id: day for id, day in days.items() if day != search.movers[id].day}
    found = Found(
        doses=tuple(
            FoundDose(
                zone=id,
                wanted=wanted,
                dose=judged.trial.day.zones[id].dli.replay,
                within=judged.within[id],
            )
            for id, wanted in search.wanted.items()
        ),
        days=tuple(
            FoundDay(channel=id, asked=search.movers[id].day, found=day)
            for id, day in changed.items()
        ),
        rows=judged.trial.rows,
        is_beside_changes=bool(schedule.changes),
    )
    digest = schedule.file_digest or digest_of(schedule)
    return replace(with_days(schedule, changed), found=found, file_digest=digest)
