"""What a channel is wanted to give: its day and moonlight, evaluated by the clock or on a date."""

from __future__ import annotations

import contextlib
import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from photoperiod.curves.curve import Profile, Samples, Signal
from photoperiod.curves.segment import Segment
from photoperiod.days.events import SkyTimes
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import MoonlightKind, PeakOf, SunDay
from photoperiod.schedule.day_rules import ClockTimes, DayRules
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac

#: Light that follows the sun is sampled this far apart [s].
SAMPLE_S = 60


class DayFault(Exception):
    """A day can't be built, on some date or on any; the diagnostics say why."""

    def __init__(self, diagnostics: list[Diagnostic]) -> None:
        super().__init__(diagnostics)
        self.diagnostics = diagnostics


def signals_by_clock(channel: Channel) -> tuple[Profile, ...]:
    """Return the light of a channel that does the same on every date, from midnight on.

    Raises
    ------
    DayFault
        If its day breaks a rule. One that was loaded from a file has been checked.
    """
    findings = Findings()
    rules = DayRules(ClockTimes(), findings)
    profiles = []
    try:
        if channel.day is not None:
            profiles.append(Profile(rules.segments(channel.day, (*channel.path, "day"))))
        if channel.moonlight is not None:
            path = (*channel.path, "moonlight")
            profiles.append(Profile(rules.moonlight(channel.moonlight, path)))
    except AlreadyReported:
        raise DayFault(_errors(findings)) from None
    return tuple(profiles)


def signals_on(channel: Channel, sky: Almanac, date: dt.date) -> tuple[Signal, ...]:
    """Return the light of a channel that belongs to a plan date, from its midnight on.

    Raises
    ------
    DayFault
        If its day can't be built on that date.
    """
    findings = Findings()
    signals: tuple[Signal, ...] = ()
    with contextlib.suppress(AlreadyReported):
        signals = (*_day(channel, sky, date, findings), *_moonlight(channel, sky, date, findings))
    faults = [
        d if str(date) in d.message else replace(d, message=f"{d.message} (on {date})")
        for d in _errors(findings)
    ]
    if faults:
        raise DayFault(faults)
    return signals


def _errors(findings: Findings) -> list[Diagnostic]:
    """Return the findings that stand in the way; the others were reported when the file was loaded."""
    return [finding for finding in findings if finding.severity is Severity.ERROR]


def _day(channel: Channel, sky: Almanac, date: dt.date, findings: Findings) -> tuple[Signal, ...]:
    """Return the light of the day on a date."""
    day = channel.day
    if day is None:
        return ()
    if isinstance(day, SunDay):
        of_year = day.peak_of is PeakOf.YEAR
        share = sky.sunlight(date, day.model, SAMPLE_S, of_year=of_year)
        return (Samples.of(0, SAMPLE_S, day.peak_light * share),)
    rules = DayRules(SkyTimes(sky, date), findings)
    return (Profile(rules.segments(day, (*channel.path, "day"))),)


def _moonlight(
    channel: Channel, sky: Almanac, date: dt.date, findings: Findings
) -> tuple[Signal, ...]:
    """Return the moonlight of the night that begins on a date."""
    moonlight = channel.moonlight
    if moonlight is None:
        return ()
    rules = DayRules(SkyTimes(sky, date), findings)
    start, end = rules.night(moonlight, (*channel.path, "moonlight"))
    light, spans = moonlight.light, [(start, end)]
    if moonlight.follows_moon:
        light = light * sky.moonlight(date, (start + end) // 2)
    if moonlight.kind is MoonlightKind.PHASE_AND_RISE:
        spans = sky.moon_up(date, start, end)
    return tuple(Profile((Segment(begin, stop, light, light),)) for begin, stop in spans)
