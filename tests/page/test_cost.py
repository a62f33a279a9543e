from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.cost import cost_figure, cost_words
from photoperiod.page.figure import RIGHT, Figure
from photoperiod.program.dates import DateSpan
from tests.page.pages import TWO_WEEKS, changed, page, places, program, table

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


def test_a_year_is_told_once() -> None:
    """By hand: 118 W, 12 h a date: 516.84 kWh over 365 dates."""
    year = DateSpan(TWO_WEEKS.first, TWO_WEEKS.first + dt.timedelta(days=364))
    words = cost_words(program(changed(WATTS), year))
    assert "kWh of mains energy over 365 dates" in words and "A year like this" not in words
    assert "A year like this: 517 kWh" in cost_words(program(changed(WATTS), TWO_WEEKS))


def named_lamp(name: str) -> Figure:
    label = "    ballast: pair\n", f'    ballast: pair\n    label: "{name}"\n'
    found = cost_figure(program(changed(WATTS, label), TWO_WEEKS), {"blue": 0})
    assert found is not None
    return found


def test_a_name_has_the_room_that_it_needs() -> None:
    short, long = named_lamp("Blue"), named_lamp("Royal blue over the reef, left")
    assert [each.words[0].text for each in (short, long)] == [
        "Blue", "Royal blue over the reef, left",
    ]  # fmt: skip
    # Names end where bars begin, and begin within the picture.
    assert short.words[0].x < long.words[0].x
    assert places(long.shapes[0].d)[0][0] > long.words[0].x
    assert long.words[0].x <= RIGHT * 2 / 3


def test_a_name_without_end_is_cut_and_told_whole_under_the_pointer() -> None:
    name = "Royal blue over the reef, left of the weir and right of the skimmer"
    word = named_lamp(name).words[0]
    assert word.text.startswith("Royal blue over the reef") and word.text.endswith("…")
    assert word.whole == name
    label = "    ballast: pair\n", f'    ballast: pair\n    label: "{name}"\n'
    html = page(changed(WATTS, label), TWO_WEEKS)
    assert f">{word.text}<title>{name}</title></text>" in html
