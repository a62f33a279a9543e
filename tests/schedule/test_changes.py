"""Shares, moves and dates of changes, by hand."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from photoperiod.schedule.changes import (
    Acclimation,
    Course,
    DarkDays,
    MovedHours,
    OtherDay,
    PartOut,
    later,
)

APRIL = dt.date(2027, 4, 1)

#: Shares are kept to nine digits.
SHARE_TOLERANCE = 1e-9


def acclimation(**values) -> Acclimation:
    given = {
        "first": APRIL,
        "days": 28,
        "from_share": 0.6,
        "every_days": 7,
        "channels": ("blue",),
    }
    return Acclimation(**(given | values))


def test_four_weeks_are_four_steps_and_then_the_plan() -> None:
    # 60 % and a quarter of the missing 40 % more each week, by hand
    weeks = [acclimation().share_on(later(APRIL, 7 * week)) for week in range(5)]
    assert weeks == pytest.approx([0.6, 0.7, 0.8, 0.9, 1.0], abs=SHARE_TOLERANCE)
    assert acclimation().steps == 4
    assert list(acclimation().begins()) == [dt.date(2027, 4, day) for day in (1, 8, 15, 22)]


def test_a_geometric_course_is_a_geometric_progression() -> None:
    # Arithmetic by hand: from 1/2 to 1 in four steps the ratio is the fourth root of 2, 1.189207.
    half = acclimation(from_share=0.5, course=Course.GEOMETRIC)
    shares = [half.share_of(step) for step in range(5)]
    by_hand = [0.5, 0.594603558, 0.707106781, 0.840896415, 1.0]
    assert shares == pytest.approx(by_hand, abs=1e-8)
    ratios = [after / before for before, after in itertools.pairwise(shares)]
    assert ratios == pytest.approx([2**0.25] * 4, abs=1e-8)


def test_the_share_holds_within_a_step_and_is_one_outside() -> None:
    change = acclimation()
    assert change.share_on(dt.date(2027, 4, 7)) == change.share_on(APRIL) == 0.6
    assert change.share_on(dt.date(2027, 3, 31)) == 1.0
    assert change.last == dt.date(2027, 4, 28)
    assert change.share_on(dt.date(2027, 4, 29)) == 1.0


def test_a_last_step_may_be_shorter() -> None:
    change = acclimation(days=10)
    assert change.steps == 2
    assert [change.share_on(later(APRIL, day)) for day in (6, 7, 9, 10)] == [0.6, 0.8, 0.8, 1.0]


def moved(**values) -> MovedHours:
    given = {
        "first": APRIL,
        "per_day_s": 600,
        "total_s": 3600,
        "every_days": 1,
        "channels": ("blue",),
    }
    return MovedHours(**(given | values))


def test_hours_move_by_ten_minutes_a_day_and_stay() -> None:
    change = moved()
    minutes = [change.moved_s(later(APRIL, day)) / 60 for day in (-1, 0, 1, 5, 6, 300)]
    assert minutes == [0, 10, 20, 60, 60, 60]
    assert change.last == dt.date(2027, 4, 6)
    assert moved(total_s=-1500).moved_s(later(APRIL, 9)) == -1500
    assert [moved(total_s=-1500).moved_s(later(APRIL, day)) for day in range(3)] == [
        -600,
        -1200,
        -1500,
    ]


def test_hours_may_move_once_a_week() -> None:
    change = moved(every_days=3)
    assert change.steps == 2
    assert [change.moved_s(later(APRIL, day)) for day in (0, 2, 3)] == [1800, 1800, 3600]


def test_dates_of_the_others() -> None:
    assert DarkDays(first=APRIL, days=3, channels=("blue",)).last == dt.date(2027, 4, 3)
    assert OtherDay(first=APRIL, day_plan="calm", channels=("blue",)).last is None
    assert PartOut(first=APRIL, channel="blue", ballasts=1, days=2).last == dt.date(2027, 4, 2)
    assert later(dt.date.max, 5) == dt.date.max
