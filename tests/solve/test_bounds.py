"""The words on what stands against a dose."""

from __future__ import annotations

from photoperiod.solve.bounds import day_bound, light_bound
from photoperiod.solve.movers import movers_of
from tests.solve.test_movers import schedule


def test_bounds_say_what_would_free_them() -> None:
    mover = movers_of(schedule("{peak_light_percent: [40, 95], day_hours: [11, 13]}"))["blue"]
    most = light_bound(mover, "most")
    assert most.text == "the most peak light of 'blue'"
    assert most.way_out == "a higher most `peak_light_percent` of 'blue'"
    assert light_bound(mover, "least").way_out == "a lower least `peak_light_percent` of 'blue'"
    assert day_bound(mover, "most").way_out == "a longer most `day_hours` of 'blue'"
    assert len({most.path, light_bound(mover, "least").path, day_bound(mover, "most").path}) == 3


def test_a_peak_that_may_not_move_and_one_at_full() -> None:
    fixed = movers_of(schedule("{day_hours: [11, 13]}"))["blue"]
    assert "which may not move" in light_bound(fixed, "most").text
    full = movers_of(schedule("{peak_light_percent: [40, 100]}"))["blue"]
    assert light_bound(full, "most").text == "'blue' is at full"
