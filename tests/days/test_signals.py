"""Days of channels as light over time, by the clock and on dates."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from photoperiod.curves.curve import Profile, Samples
from photoperiod.curves.segment import Segment
from photoperiod.days.day_curves import DayCurves
from photoperiod.days.signals import SAMPLE_S, DayFault, signals_by_clock, signals_on
from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Dusk,
    Event,
    Moonlight,
    MoonlightKind,
    Peak,
    PeakOf,
    Ramps,
    SunDay,
)
from photoperiod.schedule.model import Channel
from photoperiod.schedule.site import Place
from photoperiod.sky.almanac import Almanac
from photoperiod.sky.kinds import SunEvent
from tests.schedule.test_model import DAY, PAIR, smallest

H = 3600
LISBON = Place(latitude_deg=38.7, longitude_deg=-9.1, time_zone="Europe/Lisbon")
DATE = dt.date(2027, 3, 20)
MOONLIGHT = Moonlight(
    kind=MoonlightKind.STEADY, light=0.02, start=ClockTime(21 * H), end=ClockTime(6 * H)
)
BLUE = Channel(id="blue", ballast=PAIR, day=DAY)


@pytest.fixture(scope="module")
def sky() -> Almanac:
    sun = replace(BLUE, day=SunDay(peak_light=0.8))
    return DayCurves(smallest(place=LISBON, channels={"blue": sun})).sky_on(dt.date(2027, 6, 1))


def test_by_the_clock() -> None:
    assert signals_by_clock(replace(BLUE, moonlight=MOONLIGHT)) == (
        Profile(
            (
                Segment(9 * H, 10 * H, 0.0, 0.8),
                Segment(10 * H, 20 * H, 0.8, 0.8),
                Segment(20 * H, 21 * H, 0.8, 0.0),
            )
        ),
        Profile((Segment(21 * H, 30 * H, 0.02, 0.02),)),
    )
    assert signals_by_clock(replace(BLUE, day=None)) == ()


def test_a_day_built_in_python_is_checked_when_it_is_used() -> None:
    short = replace(DAY, dusk=Dusk(end=ClockTime(9 * H + 1800), length_s=60))
    with pytest.raises(DayFault) as caught:
        DayCurves(smallest(channels={"blue": replace(BLUE, day=short)})).curves(None)
    (fault,) = caught.value.diagnostics
    assert (fault.code, fault.path) == ("PHO304", ("channels", "blue", "day", "dusk", "end"))


def test_on_a_date_of_a_clock_without_changes_it_is_the_same(sky: Almanac) -> None:
    channel = replace(BLUE, moonlight=MOONLIGHT)
    assert signals_on(channel, sky, DATE) == signals_by_clock(channel)


def test_the_sun_is_sampled_from_sunrise_to_sunset(sky: Almanac) -> None:
    (signal,) = signals_on(replace(BLUE, day=SunDay(peak_light=0.8)), sky, DATE)
    assert isinstance(signal, Samples)
    assert signal.step_s == SAMPLE_S
    # noon of Lisbon is 12 h + 9.1° × 4 min + 7.5 min, the equation of time of 20 March: 12:44
    noon_s = 12 * H + 44 * 60
    assert signal.start_s + np.argmax(signal.values) * SAMPLE_S == pytest.approx(noon_s, abs=120)
    # the sun is up six hours before and after it; a dark sample stands before, and two after
    assert (signal.values > 0).tolist() == [False, *[True] * (signal.values.size - 3), False, False]
    assert signal.start_s == pytest.approx(noon_s - 6 * H, abs=240)
    assert signal.values.size == pytest.approx(12 * 60 + 1, abs=4)


def test_the_peak_is_that_of_the_year_or_of_each_day(sky: Almanac) -> None:
    most = {}
    for peak_of in PeakOf:
        (signal,) = signals_on(
            replace(BLUE, day=SunDay(peak_light=0.8, peak_of=peak_of)), sky, DATE
        )
        most[peak_of] = signal.most_light
    # at noon of an equinox the sun stands 51.3° high, in June 74.74°; sin 51.3° / sin 74.74° = 0.8090
    assert most[PeakOf.YEAR] == pytest.approx(0.8 * 0.8090, abs=0.003)
    assert most[PeakOf.DAY] == pytest.approx(0.8, abs=1e-6)


def test_a_fault_says_on_which_date(sky: Almanac) -> None:
    event = Event(name=SunEvent.SUNRISE)
    day = Ramps(
        dawn=Dawn(start=event, length_s=20 * H),
        peaks=(Peak(light=0.8),),
        dusk=Dusk(end=ClockTime(21 * H), length_s=60),
    )
    with pytest.raises(DayFault) as caught:
        signals_on(replace(BLUE, day=day), sky, DATE)
    (fault,) = caught.value.diagnostics
    assert fault.code == "PHO304" and fault.message.endswith("(on 2027-03-20)")


def test_a_day_past_midnight_says_so(sky: Almanac) -> None:
    # from 22:00 to 21:00 of the next date
    day = replace(DAY, dawn=Dawn(start=ClockTime(22 * H), length_s=60))
    assert len(signals_on(replace(BLUE, day=replace(day, ends_next_day=True)), sky, DATE)) == 1
    with pytest.raises(DayFault) as caught:
        signals_on(replace(BLUE, day=day), sky, DATE)
    assert [fault.code for fault in caught.value.diagnostics] == ["PHO326"]


# Full moon was on 2027-03-22 at 10:44 UTC, new moon on 2027-04-06 at 23:51 UTC: from memory of tables of
# moon phases, to the hour.
FULL, NEW = dt.date(2027, 3, 21), dt.date(2027, 4, 6)


def moonlight_on(sky: Almanac, kind: MoonlightKind, date: dt.date) -> tuple[Segment, ...]:
    channel = replace(BLUE, day=None, moonlight=replace(MOONLIGHT, kind=kind))
    found = []
    for signal in signals_on(channel, sky, date):
        assert isinstance(signal, Profile)
        found += signal.segments
    return tuple(found)


def test_moonlight_by_phase_lasts_all_night_and_is_brightest_at_full_moon(sky: Almanac) -> None:
    (full,) = moonlight_on(sky, MoonlightKind.PHASE, FULL)
    (new,) = moonlight_on(sky, MoonlightKind.PHASE, NEW)
    assert (full.start_s, full.end_s) == (new.start_s, new.end_s) == (21 * H, 30 * H)
    assert 0.015 < full.start_light <= 0.02 and new.start_light < 0.0005
    # the phase is that of the middle of the night, 01:30
    assert full.start_light == 0.02 * sky.moonlight(FULL, 25 * H + 1800)


def test_moonlight_by_rise_shines_while_the_moon_is_up(sky: Almanac) -> None:
    by_rise = moonlight_on(sky, MoonlightKind.PHASE_AND_RISE, dt.date(2027, 3, 26))
    (by_phase,) = moonlight_on(sky, MoonlightKind.PHASE, dt.date(2027, 3, 26))
    # four days after full moon it rises late in the evening and is up until after 06:00
    (night,) = by_rise
    assert by_phase.start_s < night.start_s < 25 * H and night.end_s == 30 * H
    assert night.start_light == by_phase.start_light
