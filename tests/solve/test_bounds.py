"""The words on what stands against a dose."""

from __future__ import annotations

from photoperiod.solve.bounds import day_bound, light_bound
from photoperiod.solve.movers import movers_of
from tests.solve.test_movers import schedule


def test_bounds_say_their_value_and_their_place() -> None:
    mover = movers_of(schedule("{peak_light_percent: [40, 95], day_hours: [11, 13.5]}"))["blue"]
    most, least = light_bound(mover, "most"), light_bound(mover, "least")
    assert most.text == "the most peak light of 'blue' (95 %)"
    assert least.text == "the least peak light of 'blue' (40 %)"
    longest = day_bound(mover, "most")
    assert longest.text == "the most length of the day of 'blue' (13.5 h)"
    assert longest.path == ("channels", "blue", "may_move", "day_hours", "most")
    assert len({each.path for each in (most, least, longest, day_bound(mover, "least"))}) == 4


def test_a_peak_that_may_not_move_and_one_at_full() -> None:
    fixed = movers_of(schedule("{day_hours: [11, 13]}"))["blue"]
    assert "which may not move" in light_bound(fixed, "most").text
    full = movers_of(schedule("{peak_light_percent: [40, 100]}"))["blue"]
    assert light_bound(full, "most").text == "'blue', which is at full"
