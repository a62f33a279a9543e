"""Days that are dimmed, moved and shortened, against arithmetic by hand."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.curves.altered import (
    Shortened,
    dimmed,
    lit_length_s,
    moved,
    plateau_light,
    within_day,
)
from photoperiod.curves.curve import Profile, Samples
from photoperiod.curves.segment import Segment

HOUR = 3600

#: A trapezoid: 9 to 21, ramps of an hour, 80 %; its integral is (12 − 1) × 0.8 h.
DAY = Profile(
    (
        Segment(9 * HOUR, 10 * HOUR, 0.0, 0.8),
        Segment(10 * HOUR, 20 * HOUR, 0.8, 0.8),
        Segment(20 * HOUR, 21 * HOUR, 0.8, 0.0),
    )
)

#: Samples an hour apart: a triangle from 6 over 9 to 12 o'clock.
TRIANGLE = Samples.of(6 * HOUR, HOUR, np.array([0.0, 0.2, 0.4, 0.6, 0.4, 0.2, 0.0]))

#: Sums of seconds of straight lines, beside the integral [s].
SUM_TOLERANCE_S = 1e-6


def at(signal, *hours: float) -> list[float]:
    return [round(float(each), 9) for each in signal.raw(np.array(hours) * HOUR)]


def test_a_dimmed_day_has_its_share_of_light() -> None:
    half = dimmed(DAY, 0.5)
    assert isinstance(half, Profile)
    assert half.integral() == pytest.approx(11 * 0.4 * HOUR)
    assert at(half, 9.5, 12, 20.5) == [0.2, 0.4, 0.2]
    assert at(dimmed(TRIANGLE, 0.5), 9) == [0.3]


def test_a_moved_day_is_the_same_later() -> None:
    assert at(moved(DAY, 2 * HOUR), 11.5, 12, 22.5) == at(DAY, 9.5, 10, 20.5)
    assert at(moved(TRIANGLE, -HOUR), 8) == [0.6]


def test_a_day_that_repeats_begins_on_its_date() -> None:
    assert within_day(moved(DAY, -10 * HOUR)).segments[0].start_s == 23 * HOUR
    assert within_day(moved(DAY, 16 * HOUR)).segments[0].start_s == HOUR
    assert within_day(DAY) == DAY
    assert within_day(Profile(())) == Profile(())


def test_a_shortened_day_loses_its_middle_and_keeps_its_ramps() -> None:
    short = Shortened(DAY, 2 * HOUR)
    assert at(short, 10.9, 11.5, 12, 17.9, 18.5, 19.1) == [0.0, 0.4, 0.8, 0.8, 0.4, 0.0]
    # 12 h − 4 h from foot to foot, ramps of an hour: (8 − 1) × 0.8 h
    assert short.raw_integral(0, 86_400) == pytest.approx(7 * 0.8 * HOUR, abs=SUM_TOLERANCE_S)
    assert {11 * HOUR, 12 * HOUR, 18 * HOUR, 19 * HOUR} <= short.raw_corners()
    assert short.most_light == 0.8


def test_a_day_without_a_plateau_gets_lower() -> None:
    # the triangle of 6 h and 0.6, cut by an hour at each end: 4 h and 0.4
    short = Shortened(TRIANGLE, HOUR)
    assert at(short, 7, 8, 9, 10, 11) == [0.0, 0.2, 0.4, 0.2, 0.0]


def test_the_lowest_plateau_counts() -> None:
    assert plateau_light(DAY) == 0.8
    steps = Profile(
        (Segment(0, 60, 0.3, 0.3), Segment(60, 120, 0.3, 0.7), Segment(120, 180, 0.7, 0.7))
    )
    assert plateau_light(steps) == 0.3
    assert plateau_light(TRIANGLE) == pytest.approx(0.6)
    assert lit_length_s(DAY) == 12 * HOUR
    assert lit_length_s(TRIANGLE) == 6 * HOUR


def test_only_days_and_samples_are_altered() -> None:
    short = Shortened(DAY, HOUR)
    for alter in (dimmed, moved):
        with pytest.raises(TypeError, match="Shortened"):
            alter(short, 2)
