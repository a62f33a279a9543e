"""What zones got on the day before: limits that compare a day with it go by this, wherever dates are cut."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.drive.kept import kept_while_used
from photoperiod.program.channel_day import ZoneDay
from photoperiod.program.model import Program, Table
from photoperiod.schedule.changes import Acclimation
from photoperiod.schedule.model import Zone
from photoperiod.text import counted, number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S, SECONDS_PER_DAY

if TYPE_CHECKING:
    from photoperiod.tubes.hours import LastLight

#: After so many dark days animals still count as used to the light before [days]. Common practice, no source:
#: reef keepers darken a tank for three days, and go on with the light that it had.
MOST_DARK_DAYS = 3

#: A dose that is a smaller share of the last day's is moonlight, and no day [share]. Our choice.
MOON_SHARE = 0.05

#: A day whose light lies so evenly around the clock has no middle [share of its light]. Our choice.
LEAST_MIDDLE = 0.05

#: The middles of so many days are kept: several checks walk the same dates.
MOST_MIDDLES = 4096

#: The middle is looked for in steps of this [s].
_SAMPLE_S = 60


@dataclass(frozen=True, slots=True)
class Boundary:
    """A date whose table may differ from that of the date before.

    ``before`` is None where nothing is known of it: on the first date without a ledger.
    """

    date: dt.date
    before: LastLight | None
    zone: ZoneDay
    table: Table

    @property
    def is_after_darkness(self) -> bool:
        """Whether so many dark days lie before that animals count as used to darkness."""
        return self.before is not None and self.before.dark_days > MOST_DARK_DAYS


@dataclass(frozen=True, slots=True)
class PeakJump:
    """A date on which a peak rises too far.

    ``before`` is the peak that it is held against [µmol m⁻² s⁻¹], and ``dark_days`` how many dark days lie
    between, if they are so many that animals are used to darkness; 0 else.
    """

    date: dt.date
    before: float
    zone: ZoneDay
    dark_days: int = 0

    @property
    def words(self) -> str:
        """From where to where the peak rises. [µmol m⁻² s⁻¹]"""
        dark = f" after {counted(self.dark_days, 'dark day')}" if self.dark_days else ""
        return f"from {number_text(self.before, 1)} to {number_text(self.zone.peak_ppfd, 1)}{dark}"


def boundaries(program: Program, zone_id: str) -> Iterator[Boundary]:
    """Yield each date on which a table begins to hold, with what the zone got before, in order."""
    before = program.before.get(zone_id)
    for table in program.tables:
        if table.span is None:
            return
        zone = table.zones[zone_id]
        yield Boundary(table.span.first, before, zone, table)
        before = _after(before, zone, table.span.days)


def peak_jumps_of(program: Program, zone: Zone) -> Iterator[PeakJump]:
    """Yield each date on which the peak of a zone rises too far."""
    by_plan = program.first_day_by_plan.zones[zone.id].peak_ppfd
    for each in boundaries(program, zone.id):
        jump = _jump(each, by_plan, zone.peak_rise_max)
        if jump is not None:
            yield jump


def _jump(each: Boundary, by_plan: float, most: float) -> PeakJump | None:
    peak = each.zone.peak_ppfd
    if each.before is not None and each.is_after_darkness:
        is_lit = not is_dark(each.zone, each.before)
        return PeakJump(each.date, 0.0, each.zone, each.before.dark_days) if is_lit else None
    before = by_plan if each.before is None else each.before.peak_ppfd
    return PeakJump(each.date, before, each.zone) if 0 < before * (1 + most) < peak else None


def way_to_rise(program: Program) -> str:
    """Return in words how the light rises more slowly: by an acclimation, or by smaller steps of one."""
    if any(isinstance(each.change, Acclimation) for each in program.effects):
        return (
            "make the steps of the acclimation smaller: a smaller `every_days`, a longer `over_days`, or a"
            " higher `from_dose_percent`"
        )
    return "raise the light in steps (`changes: [{kind: acclimation, …}]`, `photoperiod explain acclimation`)"


def last_light(program: Program) -> Mapping[str, LastLight]:
    """Return what each zone got last, as the dates end; of dark zones how long they are dark."""
    found = {}
    for id in program.schedule.zones:
        before = program.before.get(id)
        for table in program.tables:
            before = _after(before, table.zones[id], table.span.days if table.span else 1)
        if before is not None:
            found[id] = before
    return found


def middle_s(ppfd: Floats) -> float | None:
    """Return the middle of a day's light on the clock, None if it has none. [s]

    Parameters
    ----------
    ppfd : ndarray, shape (86400,)
        PPFD of a day that repeats. [µmol m⁻² s⁻¹]

    Notes
    -----
    The direction of the mean of all light on a dial of 24 hours, so that a day across midnight has one too:
    the circular mean, N. I. Fisher, Statistical Analysis of Circular Data, 1993.
    """
    light = ppfd.reshape(-1, _SAMPLE_S).mean(axis=1)
    angles = (np.arange(light.size) + 0.5) * (2 * math.pi / light.size)
    across, along = float((light * np.sin(angles)).sum()), float((light * np.cos(angles)).sum())
    if math.hypot(across, along) <= LEAST_MIDDLE * float(light.sum()):
        return None
    return math.atan2(across, along) / (2 * math.pi) * SECONDS_PER_DAY % SECONDS_PER_DAY


@kept_while_used(MOST_MIDDLES)
def middle_of(zone: ZoneDay) -> float | None:
    """Return the middle of the light of a zone's day on the clock, None if it has none. [s]"""
    return middle_s(zone.ppfd)


def is_dark(zone: ZoneDay, before: LastLight | None) -> bool:
    """Return whether a zone has no day: no light at all, or that of a moon beside the day before."""
    if zone.peak_ppfd < NIGHT_PPFD_UMOL_M2_S:
        return True
    last = before.dli if before is not None else None
    return last is not None and zone.dli.replay < MOON_SHARE * last


def moved_s(before: float, after: float) -> float:
    """Return by how much a middle moved on the clock, later above zero, the short way round. [s]"""
    half = SECONDS_PER_DAY / 2
    return (after - before + half) % SECONDS_PER_DAY - half


def _after(before: LastLight | None, zone: ZoneDay, days: int) -> LastLight:
    """Return what is known of a zone after a table held for some days."""
    from photoperiod.tubes.hours import LastLight  # a day without a date has none before it

    if is_dark(zone, before):
        before = before or LastLight(peak_ppfd=0.0)
        return replace(before, dark_days=before.dark_days + days)
    return LastLight(peak_ppfd=zone.peak_ppfd_at_end, dli=zone.dli_at_end, middle_s=middle_of(zone))
