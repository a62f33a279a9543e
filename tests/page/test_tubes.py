from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.tubes import FULL, tube_dates, tubes_figure
from photoperiod.program.dates import DateSpan
from tests.page.pages import FIRST, TWO_WEEKS, changed, example, page, places, program, table

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def tube(more: str) -> str:
    return changed(("blue-a: {watts: 54}", f"blue-a: {{watts: 54, {more}}}"))


def test_without_dates_no_tube_is_followed() -> None:
    assert tubes_figure(program()) is None
    assert tube_dates(program()) == ()


def test_hours_rise_by_those_that_the_channel_is_lit() -> None:
    """By hand: lit from 09:00 to 21:00, 12 h a date, for 14 dates."""
    (blue,) = tube_dates(program(tube("lit_hours: 100"), TWO_WEEKS))
    assert blue.hours[0] == 100
    assert blue.hours[-1] == pytest.approx(100 + 14 * 12, abs=0.5)
    assert blue.hours[7] == pytest.approx(100 + 7 * 12, abs=0.5)


def test_a_tube_is_due_on_the_date_that_reaches_its_hours() -> None:
    """By hand: 12 h a date from 100 h on reach 160 h on the fifth date."""
    text = tube("lit_hours: 100, replace_after_hours: 160")
    (blue,) = tube_dates(program(text, TWO_WEEKS))
    assert blue.due_number == 4
    found = tubes_figure(program(text, TWO_WEEKS))
    assert found is not None
    assert {"cut", "overdue"} <= {shape.look for shape in found.shapes}
    rows = table(page(text, TWO_WEEKS), "Tubes by the last date")
    assert rows[1][-1] == f"{FIRST + dt.timedelta(days=4)} by hours"


def test_what_is_due_later_is_a_forecast_and_no_cut() -> None:
    text = tube("lit_hours: 100, replace_after_hours: 460")
    (blue,) = tube_dates(program(text, TWO_WEEKS))
    assert blue.due_number is None
    assert blue.due is not None
    assert blue.due[0] == FIRST + dt.timedelta(days=29)  # 360 h at 12 h a date
    found = tubes_figure(program(text, TWO_WEEKS))
    assert found is not None
    assert "cut" not in {shape.look for shape in found.shapes}


def test_a_strip_is_as_thick_as_the_light() -> None:
    """By hand: 10 % less in 1,000 h is 0.9 ** (168 / 1000) of the light after 168 h."""
    text = tube("depreciation: {kind: exponential, loss_percent_per_1000_h: 10}, lit_hours: 100")
    (blue,) = tube_dates(program(text, TWO_WEEKS))
    assert blue.light[0] == pytest.approx(1.0)
    assert blue.light[-1] == pytest.approx(0.9 ** (14 * 12 / 1000), abs=1e-4)


def test_what_is_not_declared_is_told() -> None:
    found = tubes_figure(program(changed(), TWO_WEEKS))
    assert found is not None
    assert "not declared of blue-a" in found.caption


def test_a_fitting_is_a_slit_and_burn_in_a_solid_head() -> None:
    found = tubes_figure(program(example("teaching-reef"), MARCH))
    assert found is not None
    looks = [shape.look for shape in found.shapes]
    assert looks.count("solid") == 2  # blue-a and blue-b
    assert looks.count("slit") == 4
    rows = table(page(example("teaching-reef"), MARCH), "Tubes by the last date")
    assert rows[1][0] == "blue-a"
    assert rows[1][5].startswith("paid on 2027-03-0")


def test_the_drawn_strip_is_as_thick_as_the_light() -> None:
    """By hand: a tube that loses 50 % in 1,000 h has 0.5 ** 0.168 of its light after 168 h."""
    text = tube("depreciation: {kind: exponential, loss_percent_per_1000_h: 50}, lit_hours: 100")
    found = tubes_figure(program(text, TWO_WEEKS))
    assert found is not None
    strip = places(next(shape.d for shape in found.shapes if shape.look == "tube"))
    first, last = (
        max(y for x, y in strip if x == side) - min(y for x, y in strip if x == side)
        for side in (strip[0][0], max(x for x, _ in strip))
    )
    assert first == pytest.approx(FULL, abs=0.15)
    assert last == pytest.approx(FULL * 0.5**0.168, abs=0.2)
