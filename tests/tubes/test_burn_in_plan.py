"""What the channels do on a day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan
from photoperiod.units import SECONDS_PER_HOUR as HOUR

WINDOW = (11 * HOUR, 18 * HOUR)


def test_a_day_without_windows_dark_or_dimmed_light_goes_by_the_plan() -> None:
    assert BY_PLAN.is_by_plan
    # Whoever owes and is dimmed has the light of the plan.
    assert replace(BY_PLAN, dimmed=frozenset({"blue"}), reasons={"blue": "too long"}).is_by_plan


@pytest.mark.parametrize(
    "plan",
    [
        replace(BY_PLAN, windows={"blue": WINDOW}),
        replace(BY_PLAN, dark=frozenset({"blue"})),
        replace(BY_PLAN, scale={"white": np.full(1440, 0.5)}),
    ],
    ids=["at full", "dark", "gives way"],
)
def test_another_day_has_other_tables(plan: DayPlan) -> None:
    assert not plan.is_by_plan
    assert plan.key != BY_PLAN.key


def test_the_order_of_channels_makes_no_other_table() -> None:
    windows = {"blue": WINDOW, "white": (HOUR, 2 * HOUR)}
    turned = dict(reversed(windows.items()))
    assert list(turned) != list(windows)
    assert replace(BY_PLAN, windows=windows).key == replace(BY_PLAN, windows=turned).key
