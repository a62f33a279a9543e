"""What may move, on the controller's grids."""

from __future__ import annotations

import pytest

from photoperiod.days.signals import DayFault
from photoperiod.schedule.model import Schedule
from photoperiod.solve.movers import groups_of, movers_of
from tests.conftest import changed, load

FULL = "    full_ppfd: {zones: {crest: 130}}\n"


def schedule(moves: str, *changes: tuple[str, str]) -> Schedule:
    text = changed(
        ("dli: [3, 5],", "wanted_dli: 4,"), (FULL, f"{FULL}    may_move: {moves}\n"), *changes
    )
    found = load("test.yaml", text.encode()).schedule
    assert found is not None
    return found


def test_bounds_lie_on_levels() -> None:
    # A square-law ballast from 1 % at 1 V: light is (0.1 + 0.9 (V − 1)/9)² = (V/10)². So 97 % of level is
    # 94.09 % of light, within a code of 12 bits (0.05 %), and 98 % is above 95 %; 64 % is 40.96 %.
    mover = movers_of(schedule("{peak_light_percent: [40, 95]}"))["blue"]
    assert mover.factors[1] * mover.peak == pytest.approx(0.9409, abs=5e-4)
    assert mover.factors[0] * mover.peak == pytest.approx(0.4096, abs=5e-4)
    assert mover.steps == (0, 0)


def test_the_day_moves_by_whole_steps_of_a_minute_or_more() -> None:
    # 12 h by the file; up to 13 h is half an hour at each end
    moves = "{day_hours: [11, 13]}"
    assert movers_of(schedule(moves))["blue"].steps == (-30, 30)
    fine = schedule(moves, ("time_step_minutes: 1", "time_step_minutes: 0.5"))
    assert (movers_of(fine)["blue"].steps, movers_of(fine)["blue"].step_s) == ((-30, 30), 60)
    coarse = schedule(moves, ("time_step_minutes: 1", "time_step_minutes: 15"))
    assert (movers_of(coarse)["blue"].steps, movers_of(coarse)["blue"].step_s) == ((-2, 2), 900)


def test_only_what_is_said_moves() -> None:
    assert movers_of(schedule("{day_hours: [11, 13]}"))["blue"].factors == (1.0, 1.0)


def test_a_length_that_no_day_has_is_refused() -> None:
    with pytest.raises(DayFault) as fault:
        movers_of(schedule("{day_hours: [12.001, 12.002]}"))
    (found,) = fault.value.diagnostics
    assert (found.code, found.path) == ("PHO341", ("channels", "blue", "may_move", "day_hours"))


def test_channels_that_keep_their_ratio_share_the_bounds_of_all() -> None:
    white = (
        "channels:\n  blue",
        "channels:\n  white:\n    ballast: pair\n    full_ppfd: {zones: {crest: 100}}\n"
        "    may_move: {together_with: blue, peak_light_percent: [10, 50]}\n    day: {kind: ramps,"
        " dawn: {start: 10:00, minutes: 60}, peaks: [{light_percent: 40}], dusk: {end: 16:00, minutes: 60}}\n"
        "  blue",
    )
    movers = movers_of(schedule("{peak_light_percent: [40, 100]}", white))
    (group,) = groups_of(movers).items()
    # white may go to 50 %, 1.25 of its 40 %: 70 % of level is 49.0 % of light, 71 % is 50.4 %
    assert group[0] == "blue"
    assert group[1][1] == pytest.approx(0.49 / 0.4, abs=2e-3)
    assert group[1][0] == pytest.approx(0.4096 / 0.8, abs=2e-3)
