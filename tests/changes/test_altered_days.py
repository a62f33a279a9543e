"""Curves of channels that are dark, moved, dimmed or shortened."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod.changes.altered_days import Alteration, AlteredDays, Scale
from photoperiod.curves.altered import Shortened
from photoperiod.curves.curve import Profile
from photoperiod.days.day_curves import DayCurves
from tests.changes.bench import TEXT, scheduled

HOUR = 3600

DATE = dt.date(2027, 3, 20)

#: By hand: ramps of an hour to 80 % from 9 to 21, and 2 % for four hours at night [h at full].
DAY_H, NIGHT_H = 11 * 0.8, 4 * 0.02

#: A sky and clocks that differ, for the other way of making curves.
SKY = TEXT.replace(
    "controller:\n",
    "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n",
)


def curve(alteration: Alteration, text: str = TEXT):
    return AlteredDays(scheduled(text=text), {"blue": alteration}).curves(DATE)["blue"]


def hours(alteration: Alteration, text: str = TEXT) -> float:
    return curve(alteration, text).integral() / HOUR


def test_what_is_dark_gives_nothing() -> None:
    assert hours(Alteration()) == pytest.approx(DAY_H + NIGHT_H)
    assert hours(Alteration(is_dark=True)) == pytest.approx(NIGHT_H)
    assert hours(Alteration(is_dark_at_night=True)) == pytest.approx(DAY_H)
    assert hours(Alteration(is_dark=True, is_dark_at_night=True)) == 0


def test_moonlight_is_not_made_smaller() -> None:
    assert hours(Alteration(scale=Scale(0.5))) == pytest.approx(DAY_H / 2 + NIGHT_H)


def test_a_moved_day_takes_its_moonlight_along() -> None:
    found = curve(Alteration(moved_s=3 * HOUR)).light(np.array([12.5, 0.5, 1.5, 4.5]) * HOUR)
    assert found == pytest.approx([0.4, 0, 0.02, 0.02])
    assert hours(Alteration(moved_s=-10 * HOUR)) == pytest.approx(DAY_H + NIGHT_H)


def test_peaks_get_dimmer_until_the_plateau_stands_at_the_floor() -> None:
    day = Profile(DayCurves(scheduled()).by_clock["blue"].parts[0].segments)
    whole = Scale(0.0125).of(day, 0.01)  # 80 % × 1.25 % is 1 %: the floor
    assert isinstance(whole, Profile)
    assert whole.most_light == pytest.approx(0.01)
    # then the day gets shorter: half of what is left takes half of its twelve hours
    short = Scale(0.00625).of(day, 0.01)
    assert isinstance(short, Shortened)
    assert short.cut_s == 3 * HOUR
    assert short.most_light == pytest.approx(0.01)


def test_a_plateau_at_the_floor_is_shortened_at_once() -> None:
    day = Profile(DayCurves(scheduled()).by_clock["blue"].parts[0].segments)
    short = Scale(0.5).of(day, 0.8)
    assert isinstance(short, Shortened)
    assert short.signal == day
    assert Scale(1.0).of(day, 0.8) is day


def test_a_shortened_day_is_a_curve_too() -> None:
    # 0.8 / 0.01: at 1/160 of the plan a plateau of 1 % from 13 to 17, ramps of an hour before and after
    found = curve(Alteration(scale=Scale(0.00625), is_dark_at_night=True))
    assert found.integral() == pytest.approx(5 * HOUR * 0.01, rel=1e-6)
    assert found.light(np.array([11.5, 15.0, 18.5]) * HOUR) == pytest.approx([0, 0.01, 0])


def test_a_day_by_the_sun_is_altered_on_its_date() -> None:
    sun = SKY.replace(
        "      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n      peaks: [{light_percent: 80}]\n"
        "      dusk: {end: 21:00, minutes: 60}\n",
        "      kind: sun\n      peak_light_percent: 80\n",
    )
    assert sun != SKY
    plain = curve(Alteration(), sun)
    noon = np.array([14.0]) * HOUR
    assert curve(Alteration(scale=Scale(0.5)), sun).light(noon) == pytest.approx(
        plain.light(noon) / 2
    )
    later = curve(Alteration(moved_s=HOUR), sun).light(noon + HOUR)
    assert later == pytest.approx(plain.light(noon))
    dark = curve(Alteration(is_dark=True, is_dark_at_night=True), sun)
    assert dark.integral() == 0
    short = curve(Alteration(scale=Scale(0.001), is_dark_at_night=True), sun)
    assert 0 < short.integral() < plain.integral() / 100


def test_clocks_that_differ_move_what_was_altered() -> None:
    utc = SKY.replace("title: Changes\n", "title: Changes\nplan_clock: utc\n")
    assert hours(Alteration(scale=Scale(0.5)), utc) == pytest.approx(DAY_H / 2 + NIGHT_H, rel=1e-6)
    short = Alteration(scale=Scale(0.00625), is_dark_at_night=True)
    assert hours(short, utc) == pytest.approx(0.05, rel=1e-6)
