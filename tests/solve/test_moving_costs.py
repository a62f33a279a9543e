"""What it costs to move: light before ends, and energy only where that leaves a choice."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.solve.movers import movers_of
from photoperiod.solve.moving_costs import (
    PRICE_OF_ENDS,
    PRICE_OF_ENERGY,
    PRICE_OF_LIGHT,
    SHARE_OF_SUM,
    moved_costs,
    tie_costs,
)
from tests.solve.test_movers import schedule

WATTS = (
    "    below_floor: nearest\n",
    "    below_floor: nearest\n    watts: {full: 54, floor: 20}\n",
)
MOVES = "{peak_light_percent: [40, 95], day_hours: [8, 14]}"


def test_light_and_ends_have_their_unknowns_and_prices() -> None:
    light, ends = moved_costs(movers_of(schedule(MOVES)), ["blue"], ["blue"])
    assert (list(light.at), light.scales, light.by_file) == ([0], [1.0], 1.0)
    assert (list(ends.at), ends.by_file) == ([1], 0.0)
    assert ends.scales == pytest.approx([2 * 60 / 86_400])  # a step of a minute at each end
    assert (light.price, ends.price) == (PRICE_OF_LIGHT, PRICE_OF_ENDS)
    assert light.price_of_each == pytest.approx(PRICE_OF_LIGHT * SHARE_OF_SUM)


@pytest.mark.parametrize(("change", "per_light"), [((WATTS,), (54 - 20) / 0.99 / 54), ((), 0.01)])
def test_ties_go_to_least_energy_or_else_to_the_shortest_day(
    change: tuple[tuple[str, str], ...], per_light: float
) -> None:
    """An hour at full takes 54 Wh, of which 20 W are for a lit lamp at its floor of 1 %."""
    movers = movers_of(schedule(MOVES, *change))
    slopes = {"blue": np.array([86_400.0, 0.0])}  # a factor of light, without ends: full all day
    costs = tie_costs(movers, ["blue"], 2, slopes) / PRICE_OF_ENERGY
    assert costs[0] == pytest.approx(per_light)
    a_minute_at_each_end = 2 * 60 / 86_400
    floor_alone = (20 - 34 / 0.99 * 0.01) / 54 if change else 1.0
    assert costs[1] == pytest.approx(floor_alone * a_minute_at_each_end, rel=1e-6)
