from __future__ import annotations

import pytest

from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Dusk,
    Event,
    Moonlight,
    MoonlightKind,
    Peak,
    Point,
    Points,
    Ramps,
    SunDay,
    follows_sky,
    light_key,
    time_of_day,
    times_of,
)
from photoperiod.sky.kinds import SunEvent

NINE, NINE_AT_NIGHT = ClockTime(9 * 3600), ClockTime(21 * 3600)
NOON = Event(name=SunEvent.NOON)


@pytest.mark.parametrize(
    ("text", "second"),
    [("00:00", 0), ("9:00", 32_400), ("09:00:30", 32_430), ("24:00", 86_400)],
)
def test_times_by_the_clock(text: str, second: int) -> None:
    assert time_of_day(text) == ClockTime(second) == ClockTime.of(text)


@pytest.mark.parametrize(
    ("text", "name", "offset_s"),
    [
        ("sunrise", SunEvent.SUNRISE, 0),
        ("sunrise + 45 min", SunEvent.SUNRISE, 2700),
        ("civil dusk - 30 min", SunEvent.CIVIL_DUSK, -1800),
        ("noon + 999 min", SunEvent.NOON, 59_940),
    ],
)
def test_events_are_read_and_written_alike(text: str, name: SunEvent, offset_s: int) -> None:
    event = time_of_day(text)
    assert event == Event(name=name, offset_s=offset_s)
    assert isinstance(event, Event) and event.text == text


@pytest.mark.parametrize("text", ["", "sunup", "sunrise +45 min", "sunrise + 45", "civil noon"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        time_of_day(text)


def ramps(**changes: object) -> Ramps:
    parts = {
        "dawn": Dawn(start=NINE, length_s=60),
        "peaks": (Peak(light=0.5),),
        "dusk": Dusk(end=NINE_AT_NIGHT, length_s=60),
    }
    return Ramps(**(parts | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("plan", "follows"),
    [
        (ramps(), False),
        (ramps(dawn=Dawn(start=NOON, length_s=60)), True),
        (ramps(dawn=Dawn(start=NINE, end=NOON)), True),
        (ramps(dusk=Dusk(end=NOON, length_s=60)), True),
        (ramps(dusk=Dusk(end=NINE_AT_NIGHT, start=NOON)), True),
        (ramps(peaks=(Peak(light=0.5), Peak(light=0.8, ramp_start=NOON, ramp_s=60))), True),
        (Points((Point(NINE, 0.5), Point(NINE_AT_NIGHT, 0.5))), False),
        (Points((Point(NINE, 0.5), Point(NOON, 0.5))), True),
        (SunDay(peak_light=0.5), True),
    ],
)
def test_a_day_follows_the_sky_if_any_time_of_it_does(plan: Ramps, follows: bool) -> None:
    assert follows_sky(plan) is follows


@pytest.mark.parametrize(
    ("kind", "end", "moon", "sky"),
    [
        (MoonlightKind.STEADY, NINE, False, False),
        (MoonlightKind.STEADY, NOON, False, True),
        (MoonlightKind.PHASE, NINE, True, True),
        (MoonlightKind.PHASE_AND_RISE, NINE, True, True),
    ],
)
def test_moonlight_follows_the_moon_by_its_kind(
    kind: MoonlightKind, end: ClockTime | Event, moon: bool, sky: bool
) -> None:
    moonlight = Moonlight(kind=kind, light=0.02, start=NINE_AT_NIGHT, end=end)
    assert moonlight.follows_moon is moon and follows_sky(moonlight) is sky


def test_times_come_with_their_places() -> None:
    day = ramps(
        dawn=Dawn(start=NINE, end=NOON),
        peaks=(Peak(light=0.5), Peak(light=0.8, ramp_start=NOON, ramp_s=60)),
        dusk=Dusk(end=NINE_AT_NIGHT, start=NOON),
    )
    assert list(times_of(day)) == [
        (("dawn", "start"), NINE),
        (("dawn", "end"), NOON),
        (("peaks", 1, "from"), NOON),
        (("dusk", "end"), NINE_AT_NIGHT),
        (("dusk", "start"), NOON),
    ]
    points = Points((Point(NINE, 0.5), Point(NOON, 0.5)))
    assert list(times_of(points)) == [(("points", 0, "time"), NINE), (("points", 1, "time"), NOON)]
    assert list(times_of(SunDay(peak_light=1.0))) == []


def test_steady_moonlight_has_its_light_under_another_key() -> None:
    assert light_key(MoonlightKind.STEADY) == "light_percent"
    assert light_key(MoonlightKind.PHASE) == "full_light_percent"
