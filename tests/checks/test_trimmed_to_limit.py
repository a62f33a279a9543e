from __future__ import annotations

import pytest

from photoperiod.program.model import Program
from tests.checks.bench import (
    Day,
    assert_only_in_table,
    bench,
    finding,
    findings,
    found_in,
    handmade,
    marked,
    two_dates,
    with_fit,
)
from tests.conftest import changed, compiled

CODE = "PHO428"

#: BENCH plans 0.8 × 50 + 0.6 × 100 = 100 µmol m⁻² s⁻¹ for 10 h: a DLI of 3.6, 1.44 of it from weak.
#: This table gives 0.76 × 50 + 0.6 × 100 = 98: 98 × 0.036 = 3.528, and 38 × 0.036 = 1.368 from weak.
LESS = Day(levels={"weak": [("08:00", 76), ("18:00", 0)]})


def limited(ppfd_max: float) -> str:
    return bench(
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, ppfd_max: {ppfd_max}}}")
    )


def kept(text: str, day: Day, *zones: str) -> Program:
    return with_fit(handmade(text, day), "weak", kept_for=zones)


def test_a_plan_above_the_limit_whose_table_keeps_it_is_told_in_numbers() -> None:
    text = limited(99)
    found = finding(CODE, handmade(text, LESS), text)
    assert marked(found, text) == (25, 40, "99")
    assert found.message == (
        "zone 'crest' is kept to its limit of 99: the plan's peak is 100 µmol m⁻² s⁻¹, the table's 98,"
        " and the dose is 3.53 instead of 3.6 mol m⁻² d⁻¹ (less from: weak 1.37 instead of 1.44)"
    )


@pytest.mark.parametrize(
    ("ppfd_max", "is_found"),
    [(97.9, False), (98, True), (99.99, True), (100, False), (101, False)],
)
def test_only_a_limit_between_the_table_and_the_plan_is_told(
    ppfd_max: float, is_found: bool
) -> None:
    # below 98 the table breaks the limit, which PHO402 tells
    text = limited(ppfd_max)
    assert len(findings(CODE, handmade(text, LESS), text)) == is_found


def test_a_table_that_had_to_stay_below_a_plan_at_the_limit_is_told() -> None:
    text = limited(100)
    assert findings(CODE, kept(text, LESS), text) == []
    assert findings(CODE, kept(text, LESS, "sand"), text) == []
    found = finding(CODE, kept(text, LESS, "crest"), text)
    assert "the plan's peak is 100 µmol m⁻² s⁻¹, the table's 98" in found.message


def test_channels_are_listed_by_what_they_gave_up() -> None:
    # strong 0.55 × 100 × 0.036 = 1.98 of 2.16 gives up 0.18, weak 0.072
    day = Day(levels={**LESS.levels, "strong": [("08:00", 55), ("18:00", 0)]})
    text = limited(99)
    assert finding(CODE, handmade(text, day), text).message.endswith(
        "(less from: strong 1.98 instead of 2.16, weak 1.37 instead of 1.44)"
    )


def test_tubes_that_have_faded_have_not_been_trimmed() -> None:
    # with tubes at 0.9 the plan itself gives 90
    text = limited(95)
    faded = Day(brightness={"weak": (0.9, 0.9), "strong": (0.9, 0.9)})
    assert findings(CODE, handmade(text, faded), text) == []


def test_on_days_of_burn_in_the_plan_is_another_one() -> None:
    text = limited(99)
    day = Day(levels=LESS.levels, roles={"weak": "gives-way"})
    assert findings(CODE, handmade(text, day), text) == []


def test_a_zone_without_a_limit_is_not_told() -> None:
    text = bench(("sand: {dark_hours_min: 0}", "sand: {dark_hours_min: 0, ppfd_max: 99}"))
    assert findings(CODE, handmade(text, LESS), text) == []


def test_a_table_of_whole_levels_that_would_be_over_the_limit_stays_below_and_says_so() -> None:
    # 79 % of 130 µmol m⁻² s⁻¹ is the limit, 102.7. Level 89 % gives 0.7919 × 130 = 102.9, over it; so
    # the table takes 88 %: 0.88² = 0.7744, × 130 = 100.7 (by a 12-bit code, 100.6).
    outcome = compiled(
        changed(("light_percent: 80", "light_percent: 79"), ("ppfd_max: 200", "ppfd_max: 102.7")),
        None,
    )
    found = found_in(outcome, CODE)
    assert "the plan's peak is 102.7 µmol m⁻² s⁻¹, the table's 100.6" in found.message
    assert found.severity == "note"


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: LESS}
    assert_only_in_table(CODE, two_dates(limited(99), days.get(0), days.get(1)), table)
