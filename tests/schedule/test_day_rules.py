"""The rules of a day, by the clock: seconds and lights worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.curves.segment import Segment
from photoperiod.curves.shapes import Shape
from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Day,
    Dusk,
    Event,
    Moonlight,
    MoonlightKind,
    Peak,
    Point,
    Points,
    Ramps,
    SunDay,
)
from photoperiod.schedule.day_rules import ClockTimes, DayRules, NeedsDate, check_bounds
from photoperiod.schedule.findings import Findings
from photoperiod.sky.kinds import SunEvent

H, DAY_S = 3600, 86_400
AT: Path = ("channels", "blue", "day")
NOON = Event(name=SunEvent.NOON)


def at(hour: float) -> ClockTime:
    return ClockTime(round(hour * H))


def ramps(
    dawn: Dawn | None = None, dusk: Dusk | None = None, peaks: tuple[Peak, ...] | None = None
) -> Ramps:
    return Ramps(
        dawn=dawn or Dawn(start=at(9), length_s=H),
        peaks=peaks or (Peak(light=0.8),),
        dusk=dusk or Dusk(end=at(21), length_s=2 * H),
    )


def later(hour: float, light: float = 0.5, ramp_s: int = H) -> Peak:
    return Peak(light=light, ramp_start=at(hour), ramp_s=ramp_s)


def points(*given: tuple[float, float]) -> Points:
    return Points(tuple(Point(at(hour), light) for hour, light in given))


def segments(day: Day) -> tuple[Segment, ...]:
    return DayRules(ClockTimes(), Findings()).segments(day, AT)


def told(day: Day, faulty: frozenset[Path] = frozenset()) -> list[tuple[str, Path]]:
    """Return what is found on a day that breaks a rule."""
    findings = Findings()
    with pytest.raises(AlreadyReported):
        DayRules(ClockTimes(), findings, faulty).segments(day, AT)
    return [(each.code, each.path[3:]) for each in findings]


def test_a_day_of_ramps() -> None:
    day = ramps(Dawn(start=at(9), length_s=H, shape=Shape.SINE), peaks=(Peak(light=0.8), later(13)))
    assert segments(day) == (
        Segment(9 * H, 10 * H, 0.0, 0.8, Shape.SINE),
        Segment(10 * H, 13 * H, 0.8, 0.8),
        Segment(13 * H, 14 * H, 0.8, 0.5),
        Segment(14 * H, 19 * H, 0.5, 0.5),
        Segment(19 * H, 21 * H, 0.5, 0.0),
    )


def test_the_other_end_of_a_ramp_is_its_length() -> None:
    by_ends = ramps(Dawn(start=at(9), end=at(10)), Dusk(end=at(21), start=at(19)))
    assert segments(by_ends) == segments(ramps())


def test_a_day_across_midnight_belongs_to_its_first_light() -> None:
    findings = Findings()
    day = ramps(Dawn(start=at(20), length_s=H), Dusk(end=at(4), start=at(2)))
    found = DayRules(ClockTimes(), findings).segments(replace(day, ends_next_day=True), AT)
    assert found[-1] == Segment(26 * H, 28 * H, 0.8, 0.0)
    assert not findings
    assert told(day) == [("PHO326", ("dusk", "end"))]  # it does not say so: swapped times?


@pytest.mark.parametrize("end", [9.01, 10, 23.99])
def test_a_day_that_ends_after_it_starts_may_say_what_it_likes(end: float) -> None:
    day = ramps(Dawn(start=at(9), length_s=0), Dusk(end=at(end), length_s=0))
    assert segments(day) == segments(replace(day, ends_next_day=True))


def test_a_dawn_across_midnight() -> None:
    day = ramps(Dawn(start=at(23), end=at(1)), Dusk(end=at(8), length_s=H))
    found = segments(replace(day, ends_next_day=True))
    assert found[0] == Segment(23 * H, 25 * H, 0.0, 0.8)
    swapped = ramps(Dawn(start=at(10), end=at(9)))
    assert told(swapped) == [("PHO303", ("dawn", "end"))]


@pytest.mark.parametrize(
    ("day", "code", "place"),
    [
        (ramps(Dawn(start=at(9))), "PHO332", ("dawn",)),
        (ramps(Dawn(start=at(9), length_s=H, end=at(10))), "PHO332", ("dawn",)),
        (ramps(dusk=Dusk(end=at(21))), "PHO332", ("dusk",)),
        (ramps(dusk=Dusk(end=at(21), length_s=H, start=at(20))), "PHO332", ("dusk",)),
        (ramps(dusk=Dusk(end=at(9), length_s=H)), "PHO305", ("dusk", "end")),
        (ramps(dusk=Dusk(end=at(21), start=at(22))), "PHO303", ("dusk", "start")),
        (ramps(dusk=Dusk(end=at(21), length_s=11 * H + 1)), "PHO304", ("dusk", "end")),
        (ramps(peaks=(later(13),)), "PHO321", ("peaks", 0, "from")),
        (ramps(peaks=(Peak(light=0.8, shape=Shape.SINE),)), "PHO321", ("peaks", 0, "shape")),
        (ramps(peaks=(Peak(light=0.8), Peak(light=0.5))), "PHO321", ("peaks", 1)),
        (ramps(peaks=(Peak(light=0.8), later(21))), "PHO303", ("peaks", 1, "from")),
        (ramps(peaks=(Peak(light=0.8), later(9.99))), "PHO304", ("peaks", 1, "from")),
        (ramps(peaks=(Peak(light=0.8), later(15), later(14))), "PHO303", ("peaks", 2, "from")),
        (points((9, 0.5), (12, 0.8), (11, 0.5)), "PHO303", ("points", 2, "time")),
        (points((9, 0.5), (9, 0.8), (9, 0.2)), "PHO303", ("points", 2, "time")),
        (points((9, 0.5), (8, 0.8), (9.5, 0.2)), "PHO305", ("points", 2, "time")),
    ],
)
def test_a_day_that_breaks_a_rule_is_told_at_its_place(day: Day, code: str, place: Path) -> None:
    assert (code, place) in told(day)


def test_ramps_may_touch() -> None:
    assert segments(ramps(dusk=Dusk(end=at(21), start=at(21))))[-1].end_s == 21 * H
    assert segments(ramps(dusk=Dusk(end=at(21), length_s=11 * H)))
    assert segments(ramps(peaks=(Peak(light=0.8), later(10))))


def test_two_points_at_one_time_are_a_step_and_midnight_may_be_crossed_once() -> None:
    assert segments(points((20, 0.2), (22, 0.2), (22, 0.6), (4, 0.0))) == (
        Segment(20 * H, 22 * H, 0.2, 0.2),
        Segment(22 * H, 28 * H, 0.6, 0.0),
    )
    assert segments(points((0, 0.5), (24, 0.5))) == (Segment(0, DAY_S, 0.5, 0.5),)


def night(kind: MoonlightKind = MoonlightKind.STEADY, end: float = 6) -> Moonlight:
    return Moonlight(kind=kind, light=0.02, start=at(21), end=at(end))


def test_steady_moonlight_crosses_midnight_without_a_word() -> None:
    findings = Findings()
    rules = DayRules(ClockTimes(), findings)
    assert rules.moonlight(night(), AT) == (Segment(21 * H, 30 * H, 0.02, 0.02),)
    assert findings == []
    with pytest.raises(AlreadyReported):
        rules.moonlight(night(end=21), AT)
    assert [each.code for each in findings] == ["PHO305"]


def test_what_follows_the_sky_needs_a_date() -> None:
    rules = DayRules(ClockTimes(), Findings())
    for day in (
        SunDay(peak_light=0.5),
        ramps(Dawn(start=NOON, length_s=H)),
        ramps(dusk=Dusk(end=NOON, length_s=H)),
        Points((Point(at(9), 0.5), Point(NOON, 0.5))),
    ):
        with pytest.raises(NeedsDate):
            rules.segments(day, AT)
    with pytest.raises(NeedsDate):
        rules.moonlight(night(MoonlightKind.PHASE), AT)
    with pytest.raises(NeedsDate):
        rules.moonlight(replace(night(), end=NOON), AT)


def test_rules_go_as_far_as_the_clock_leads() -> None:
    findings = Findings()
    day = ramps(dusk=Dusk(end=at(4), length_s=H), peaks=(Peak(light=0.8, shape=Shape.SINE),))
    with pytest.raises(AlreadyReported):
        DayRules(ClockTimes(), findings).segments(
            replace(day, dawn=Dawn(start=at(20), end=NOON)), AT
        )
    assert [each.code for each in findings] == ["PHO326"], "before the event, not after it"


@pytest.mark.parametrize(
    ("faulty", "found"),
    [
        (("dusk", "end"), []),  # nothing is known of the day
        (("dusk", "minutes"), []),
        (("peaks", 1, "light_percent"), [("PHO321", ("peaks", 0, "shape"))]),
        (("dusk", "shape"), [("PHO321", ("peaks", 0, "shape"))]),
        (("peaks",), []),
    ],
)
def test_a_rule_stops_at_a_faulty_value(faulty: Path, found: list[tuple[str, Path]]) -> None:
    day = ramps(peaks=(Peak(light=0.8, shape=Shape.SINE), later(13)))
    assert told(day, frozenset({(*AT, *faulty)})) == found


def test_bounds_that_no_time_can_keep() -> None:
    good = Event(name=SunEvent.SUNSET, not_before=at(17), not_after=at(17))
    bad = Event(name=SunEvent.SUNRISE, not_before=at(8), not_after=at(7))
    findings = Findings()
    day = ramps(Dawn(start=bad, length_s=H), Dusk(end=good, start=bad))
    check_bounds(day, AT, findings)
    assert [(each.code, each.path[3:]) for each in findings] == [
        ("PHO319", ("dawn", "start", "not_before")),
        ("PHO319", ("dusk", "start", "not_before")),
    ]
