"""What trials give, and what they are held against."""

from __future__ import annotations

import pytest

from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.model import Schedule
from photoperiod.solve.moved_day import longer, scaled
from photoperiod.solve.movers import movers_of
from photoperiod.solve.trial import Trials, broken_limits, count_step_s, off_by, within_of
from tests.conftest import changed, load

FULL = "    full_ppfd: {zones: {crest: 130}}\n"
ROWS = 16


def schedule(*changes: tuple[str, str]) -> Schedule:
    moves = "    may_move: {peak_light_percent: [10, 100], day_hours: [8, 16]}\n"
    text = changed((FULL, FULL + moves), *changes)
    found = load("test.yaml", text.replace("dli: [3, 5],", "dli: [3, 5], wanted_dli: 4,").encode())
    assert found.schedule is not None
    return found.schedule


def day_of(asked: Schedule) -> Ramps:
    day = asked.channels["blue"].day
    assert isinstance(day, Ramps)
    return day


def test_one_count_at_one_row_by_hand() -> None:
    # A day of one level from 10:00 to 20:00 has two lit rows. One count at one of them is a triangle of 10 h:
    # half of 10 h times what a count is worth, and the count is rounded: 5 h of it within a percent.
    asked = schedule(
        ("{start: 09:00, minutes: 60}", "{start: 10:00, minutes: 0}"),
        ("{end: 21:00, minutes: 60}", "{end: 20:00, minutes: 0}"),
    )
    found = Trials(asked, {}).of({}).fitted["blue"].fit
    ladder = found.path.burning_light
    count = max(row.count for row in found.rows)
    worth = float(ladder[count + 1] - ladder[count])
    assert count_step_s(found) == pytest.approx(5 * 3600 * worth, rel=0.01)


def test_the_smaller_of_both_tolerances_counts() -> None:
    asked = schedule()
    trial, movers = Trials(asked, {}).of({}), movers_of(asked)
    zone = asked.zones["crest"]
    step = count_step_s(trial.fitted["blue"].fit) * 130 / 1e6
    assert within_of(zone, trial, movers, 1.0) == pytest.approx(step / 2)
    assert within_of(zone, trial, movers, 1e-3) == pytest.approx(4e-3)


def test_doses_off() -> None:
    assert off_by(3.0, (4.0, 4.0)) == -1
    assert off_by(5.0, (4.0, 4.5)) == 0.5
    assert off_by(4.2, (4.0, 4.5)) == 0


def test_brightness_counts() -> None:
    asked = schedule()
    bright, dim = Trials(asked, {}).of({}), Trials(asked, {"blue": 0.9}).of({})
    assert dim.day.zones["crest"].dli.replay == pytest.approx(
        0.9 * bright.day.zones["crest"].dli.replay
    )


def test_what_is_fitted_again_is_the_same_as_fitted_alone() -> None:
    asked = schedule()
    trials, day = Trials(asked, {}), scaled(day_of(asked), 0.9)
    trials.of({})
    again, alone = trials.of({"blue": day}), Trials(asked, {}).of({"blue": day})
    assert again.fitted["blue"].fit.rows == alone.fitted["blue"].fit.rows
    back = trials.of({})
    assert back.fitted["blue"].fit.rows == Trials(asked, {}).of({}).fitted["blue"].fit.rows


def test_limits_that_are_passed_are_named() -> None:
    asked = schedule(("ppfd_max: 200", "ppfd_max: 110, ppfd_rise_per_minute_max: 5"))
    trials = Trials(asked, {})
    own = trials.of({})
    assert broken_limits(own, own, ROWS) == []
    bright = trials.of({"blue": scaled(day_of(asked), 1.2)})
    found = {each.limit: each.by for each in broken_limits(bright, own, ROWS)}
    # 0.96 × 130 = 124.8, less what rounding takes; 11 × 0.96 × 130 × 0.0036 = 4.94, inside 3 to 5
    assert found["ppfd_max"] == pytest.approx(124.8 - 110, abs=2)
    assert set(found) == {"ppfd_max"}


def test_a_night_is_kept_and_one_that_is_short_already_does_not_get_shorter() -> None:
    asked = schedule(("dark_hours_min: 8", "dark_hours_min: 11"))
    trials = Trials(asked, {})
    own, day = trials.of({}), longer(day_of(asked), 3600)
    assert day is not None
    (found,) = broken_limits(trials.of({"blue": day}), own, ROWS)
    assert (found.zone, found.limit) == ("crest", "dark_hours_min")
    short = schedule(("dark_hours_min: 8", "dark_hours_min: 13"), ("dli: [3, 5]", "dli: [1, 9]"))
    trials = Trials(short, {})
    own = trials.of({})
    assert broken_limits(own, own, ROWS) == []
    assert [b.limit for b in broken_limits(trials.of({"blue": day}), own, ROWS)] == [
        "dark_hours_min"
    ]
