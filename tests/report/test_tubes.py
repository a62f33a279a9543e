from __future__ import annotations

from photoperiod.report.summary import MOST_SHOWN, fade_notes, render_summary
from photoperiod.report.tubes import held_lines, render_tubes
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


#: 5 % in 1,000 h, nine hours a day.
FADE = ", fitted: 2027-01-01, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
HOLD = {"a": FADE, "light": 95, "hold": "    hold_light: {dose_within_percent: 3}\n"}


def test_each_table_says_what_it_makes_up_for() -> None:
    p = program("2027-01-01", "2027-12-31", **HOLD)
    assert fade_notes(p.tables[0]) == [
        "blue gives 100 % of its plan's light, because its tubes give 100 % of what was measured"
    ]
    # The peak of 95 % can rise to full: 100/95 = 105.3 %
    *_, held, short = fade_notes(p.tables[-1])
    assert held.startswith("blue gives 105.3 % of its plan's light")
    assert short.startswith("blue can't be held: its dose falls to")
    assert fade_notes(program("2027-01-01", "2027-01-31").tables[0]) == []


def test_of_many_tables_the_end_is_told() -> None:
    p = program("2027-01-01", "2030-12-31", **(HOLD | {"light": 50}))
    assert len(p.tables) > MOST_SHOWN
    # ln(100/50)/α + ln(1/0.97)/α = 14,107 h, or 1,567 days of nine hours: after these dates
    (empty, line) = held_lines(p)
    assert empty == "" and line.startswith(
        "blue: light held within 3 % on all dates; levels rise to"
    )
    assert line in render_summary(p, [])
    assert held_lines(program("2027-01-01", "2027-01-31")) == []


def test_a_tube_of_unknown_age_is_said_to_count_as_new() -> None:
    told = "a: age not told: counted as new from 2027-01-01."
    assert told in text(a=", replace_after_hours: 900")
    for known in (", fitted: 2027-01-01", ", lit_hours: 300"):
        assert "age not told" not in text(a=known)
