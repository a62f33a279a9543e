from __future__ import annotations

import pytest

from photoperiod.page.cost import cost_figure, cost_words
from tests.page.pages import TWO_WEEKS, changed, page, program, table

WATTS = (
    "    below_floor: nearest\n",
    "    below_floor: nearest\n    watts: {full: 118, floor: 118}\n",
)


def test_without_watts_nothing_is_known() -> None:
    assert cost_figure(program(), {"blue": 0}) is None
    assert "no ballast has watts" in cost_words(program())


def test_energy_is_power_times_hours() -> None:
    """By hand: 118 W whatever the light, 12 h a date, 14 dates: 19.824 kWh."""
    found = program(changed(WATTS), TWO_WEEKS)
    assert "19.8" in cost_words(found)
    row = table(page(changed(WATTS), TWO_WEEKS), "Mains energy by channel")[1]
    assert row[0] == "blue"
    assert float(row[1]) == pytest.approx(0.118 * 12 * 14, rel=2e-3)
    assert float(row[2]) == pytest.approx(0.118 * 12, rel=2e-3)


def test_money_is_told_where_there_is_a_tariff() -> None:
    costs = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.25}}\ntank: bench\n"
    text = changed(WATTS, ("tank: bench\n", costs))
    words = cost_words(program(text, TWO_WEEKS))
    assert "4.9" in words  # 19.824 kWh × 0.25
    assert "EUR" in words
