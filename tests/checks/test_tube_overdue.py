from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.tubes.hours import TubeHours
from tests.checks.bench import (
    SPAN,
    assert_found,
    bench,
    findings,
    found_in,
    handmade,
    marked,
    two_dates,
    with_tubes,
)
from tests.conftest import compiled

CODE = "PHO414"

LIMITED = bench(
    ("tube-a: {watts: 54}", "tube-a: {watts: 54, replace_after_hours: 9000}"),
    ("tube-b: {watts: 54}", "tube-b: {watts: 54, replace_after_hours: 8000}"),
)


def test_a_tube_that_is_nearly_due() -> None:
    assert_found(
        CODE,
        [("{watts: 54}", "{watts: 54, lit_hours: 8990, replace_after_hours: 9000}")],
        (22, 61, "9000"),
        "tube 'blue-a' will have burned 9050 h by 2027-03-05, more than 9000 h",
    )


@pytest.mark.parametrize(
    ("before_h", "lit_s", "is_found"),
    [(8990.0, 36_000 - 1, False), (8990.0, 36_000, False), (8990.0, 36_000 + 1, True)],
)
def test_the_last_hour_may_be_burned(before_h: float, lit_s: int, is_found: bool) -> None:
    hours = TubeHours(before_h, 0.0, lit_seconds=lit_s)
    program = with_tubes(two_dates(LIMITED), tube_a=hours)
    found = findings(CODE, program, LIMITED)
    assert len(found) == is_found
    if found:
        assert marked(found[0], LIMITED) == (22, 44, "9000")
        assert found[0].message == (
            "tube 'tube-a' will have burned 9000 h by 2027-03-02, more than 9000 h"
        )


def test_hours_are_told_in_whole_hours() -> None:
    text = LIMITED.replace("replace_after_hours: 9000", "replace_after_hours: 8999.6")
    program = with_tubes(two_dates(text), tube_a=TubeHours(9001.3, 0.0))
    (found,) = findings(CODE, program, text)
    assert found.message.endswith("will have burned 9001 h by 2027-03-02, more than 9000 h")


def test_each_tube_has_a_limit_of_its_own() -> None:
    used = TubeHours(8500.0, 0.0)
    (found,) = findings(CODE, with_tubes(two_dates(LIMITED), tube_a=used, tube_b=used), LIMITED)
    assert marked(found, LIMITED) == (23, 44, "8000")
    assert "tube 'tube-b' will have burned 8500 h" in found.message


def test_a_tube_without_a_limit_is_never_due() -> None:
    program = with_tubes(two_dates(), tube_a=TubeHours(90_000.0, 0.0))
    assert findings(CODE, program) == []


def test_without_dates_nothing_is_due() -> None:
    program = with_tubes(handmade(LIMITED), tube_a=TubeHours(90_000.0, 0.0))
    assert findings(CODE, program, LIMITED) == []


# BENCH is lit 10 h a day, 50 h in the five days of the span.
@pytest.mark.parametrize(("before_h", "is_found"), [(8949, False), (8950, False), (8951, True)])
def test_the_last_date_counts(before_h: int, is_found: bool) -> None:
    text = LIMITED.replace("{watts: 54, replace_after_hours: 9000}",
                           f"{{watts: 54, lit_hours: {before_h}, replace_after_hours: 9000}}")  # fmt: skip
    outcome = compiled(text, SPAN)
    if is_found:
        assert "have burned 9001 h by 2027-03-05" in found_in(outcome, CODE).message
    else:
        assert CODE not in {d.code for d in outcome.report}


MONTHS = "{watts: 54, fitted: 2026-10-01, replace_after_months: 9}"


# Nine months after 1 October 2026 it is 1 July 2027, by the calendar.
@pytest.mark.parametrize(("date", "is_found"), [("2027-07-01", False), ("2027-07-02", True)])
def test_months_count_as_hours_do(date: str, is_found: bool) -> None:
    text = bench(("tube-a: {watts: 54}", f"tube-a: {MONTHS}"))
    day = dt.date.fromisoformat(date)
    outcome = compiled(text, DateSpan(day, day))
    assert (CODE in {d.code for d in outcome.report}) == is_found
    if is_found:
        found = found_in(outcome, CODE)
        assert marked(found, text)[2] == "9"
        assert found.message == (
            "tube 'tube-a', fitted on 2026-10-01, is in until 2027-07-02: it was due on 2027-07-01,"
            " after 9 months"
        )


# It leaves on the date on which it is due, a month after that, or before the dates.
@pytest.mark.parametrize(
    ("fitted", "is_found"), [("2027-07-01", False), ("2027-08-01", True), ("2027-05-01", False)]
)
def test_a_tube_that_left_its_place_is_overdue_until_then(fitted: str, is_found: bool) -> None:
    old, new = (
        MONTHS.replace("54,", "54, place: left,"),
        f"{{watts: 54, place: left, fitted: {fitted}}}",
    )
    text = bench(
        ("tube-a: {watts: 54}", f"tube-a: {old}\n  tube-c: {new}"),
        ("tubes: [tube-a]", "tubes: [tube-a, tube-c]"),
    )
    outcome = compiled(text, DateSpan(dt.date(2027, 6, 1), dt.date(2027, 9, 1)))
    assert (CODE in {d.code for d in outcome.report}) == is_found
    gone = compiled(text, DateSpan(dt.date(2027, 9, 1), dt.date(2027, 9, 2)))
    assert CODE not in {d.code for d in gone.report}


def test_one_finding_for_a_tube_that_is_overdue_by_both() -> None:
    text = LIMITED.replace("replace_after_hours: 9000", "fitted: 2026-01-01, replace_after_hours: 9000,"
                           " replace_after_months: 9")  # fmt: skip
    (found,) = findings(CODE, with_tubes(two_dates(text), tube_a=TubeHours(9001.0, 0.0)), text)
    assert "9001 h" in found.message
    assert "fewest loads" in found.help and "jumps" in found.help


# Due on 2027-07-01; the file plans its replacement within 14 days of that, or of the first date.
@pytest.mark.parametrize(
    ("first", "fitted", "is_found"),
    [
        (dt.date(2027, 6, 1), "2027-07-15", False),
        (dt.date(2027, 6, 1), "2027-07-16", True),
        (dt.date(2027, 8, 1), "2027-08-02", False),
        (dt.date(2027, 8, 1), "2027-08-16", True),
    ],
)
def test_a_replacement_that_is_planned_soon_is_not_asked_for(
    first: dt.date, fitted: str, is_found: bool
) -> None:
    old = MONTHS.replace("54,", "54, place: left,")
    text = bench(
        (
            "tube-a: {watts: 54}",
            f"tube-a: {old}\n  tube-c: {{watts: 54, place: left, fitted: {fitted}}}",
        ),
        ("tubes: [tube-a]", "tubes: [tube-a, tube-c]"),
    )
    outcome = compiled(text, DateSpan(first, dt.date(2027, 9, 1)))
    assert (CODE in {d.code for d in outcome.report}) == is_found


@pytest.mark.parametrize(("fitted", "is_found"), [("2027-03-15", False), ("2027-03-19", True)])
def test_hours_that_are_over_are_not_asked_for_either(fitted: str, is_found: bool) -> None:
    """8,960 h on 1 March, 10 h a day: 9,000 h are burned on the 4th, 14 days before the 18th."""
    text = bench(
        (
            "tube-a: {watts: 54}",
            "tube-a: {watts: 54, place: left, lit_hours: 8960, replace_after_hours: 9000}\n"
            f"  tube-c: {{watts: 54, place: left, fitted: {fitted}}}",
        ),
        ("tubes: [tube-a]", "tubes: [tube-a, tube-c]"),
    )
    outcome = compiled(text, DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 30)))
    assert (CODE in {d.code for d in outcome.report}) == is_found


def test_the_ways_to_replace_are_told_once() -> None:
    used = TubeHours(9500.0, 0.0)
    found = findings(CODE, with_tubes(two_dates(LIMITED), tube_a=used, tube_b=used), LIMITED)
    assert ["fewest loads" in each.help for each in found] == [True, False]
    assert found[1].help == "replace it, too"
