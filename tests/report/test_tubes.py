from __future__ import annotations

from photoperiod.report.tubes import render_tubes
from photoperiod.upkeep.years import tube_years
from tests.upkeep.bench import program

FLAT = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.109}}\n"


def text(**changes: object) -> str:
    found = tube_years(program("2027-01-01", "2027-12-31", **changes))
    return render_tubes(found.program, found.tubes, found.policies)


def test_tubes_and_policies_have_a_line_each() -> None:
    keys = ", fitted: 2027-01-01, replace_after_hours: 900, replace_after_months: 9, price: 10"
    shown = text(top=FLAT, a=keys)
    # 900 h at 9 h a day: 10 April; 365 × 9 h = 3,285 h
    assert "a     blue     0 to 3,285  not told  2027-04-10 by hours, 2027-10-01 by months" in shown
    # Four tubes: the first, and one every 99 days; 164.25 kWh at 0.109 and four tubes at 10
    assert "all at once" in shown and "57.90" in shown
    assert "by measured light: not told, because no tube has `replace_below_percent`" in shown


def test_held_light_is_told_with_its_end() -> None:
    fade = ", fitted: 2027-01-01, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
    keys = {"a": fade, "light": 95}
    found = tube_years(
        program(
            "2027-01-01", "2027-12-31", **keys, hold="    hold_light: {dose_within_percent: 3}\n"
        ),
        compare=False,
    )
    shown = render_tubes(found.program, found.tubes, found.policies)
    # ln(1/(0.97 × 0.95))/α = 1,594 h: the 177th day of 9 h would end below
    assert "blue: light held within 3 % until 2027-06-27" in shown


def test_a_schedule_without_tubes_says_so() -> None:
    found = tube_years(program("2027-01-01", "2027-01-31", tubes="[]"), compare=False)
    assert "the schedule has no tubes" in render_tubes(found.program, found.tubes, ())
