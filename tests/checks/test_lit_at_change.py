from __future__ import annotations

import pytest

from photoperiod.program.model import Program
from tests.checks.bench import (
    Day,
    assert_found,
    bench,
    finding,
    findings,
    handmade,
    marked,
    on,
)

CODE = "PHO422"
NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")

#: With a floor of 5 % at 0.5 V a level of n % gives n % light from there on.
LOW_FLOOR = bench(
    ("floor: {volts: 1.0, light_percent: 10}", "floor: {volts: 0.5, light_percent: 5}")
)


def test_a_day_across_midnight() -> None:
    assert_found(
        CODE,
        [
            NEW,
            ("start: 09:00", "start: 18:00"),
            ("end: 21:00", "end: 06:00"),
            ("kind: ramps", "kind: ramps\n      ends_next_day: true"),
        ],
        (26, 3, "blue"),
        "the table changes at the midnight that begins 2027-03-02 while 'blue' is lit: from 79.19 to 99.95 %"
        " of full at once (2 such changes)",
    )


def nights(*levels: tuple[int, int], id: str = "weak", text: str = LOW_FLOOR) -> Program:
    """Return tables from 1 March on whose channel begins and ends each day at some level."""
    dark = {"weak": [("00:00", 0)], "strong": [("00:00", 0)]}
    days = [
        Day(first=on(n + 1), levels={**dark, id: [("00:00", first), ("12:00", last)]})
        for n, (first, last) in enumerate(levels)
    ]
    return handmade(text, *days)


# Dark is 0; the floor gives 5 %.
@pytest.mark.parametrize(
    ("before", "after", "is_found"),
    [(0, 5, False), (5, 0, False), (0, 6, True), (6, 0, True), (50, 54, False), (50, 56, True),
     (56, 50, True), (50, 50, False)],
)  # fmt: skip
def test_five_per_cent_of_full_either_way(before: int, after: int, is_found: bool) -> None:
    found = findings(CODE, nights((20, before), (after, 20)), LOW_FLOOR)
    assert len(found) == is_found
    if found:
        assert marked(found[0], LOW_FLOOR) == (28, 3, "weak")
        assert found[0].message == (
            "the table changes at the midnight that begins 2027-03-02 while 'weak' is lit: from"
            f" {before} to {after} % of full at once (1 such change)"
        )


@pytest.mark.parametrize(("floor", "is_found"), [(4.9, False), (5.1, True)])
def test_a_jump_from_dark_to_a_floor_near_five_per_cent(floor: float, is_found: bool) -> None:
    text = LOW_FLOOR.replace("light_percent: 5}", f"light_percent: {floor}}}")
    assert len(findings(CODE, nights((20, 0), (5, 20), text=text), text)) == is_found


def test_the_first_jump_is_told_and_all_are_counted() -> None:
    program = nights((10, 10), (10, 10), (50, 50), (20, 20))
    assert finding(CODE, program, LOW_FLOOR).message == (
        "the table changes at the midnight that begins 2027-03-03 while 'weak' is lit: from 10 to 50 %"
        " of full at once (2 such changes)"
    )


def test_the_first_and_the_last_change_are_looked_at() -> None:
    first = finding(CODE, nights((10, 10), (50, 50), (50, 50)), LOW_FLOOR)
    assert "begins 2027-03-02 " in first.message
    last = finding(CODE, nights((10, 10), (10, 10), (50, 50)), LOW_FLOOR)
    assert "begins 2027-03-03 " in last.message


def test_what_a_table_does_within_its_day_is_no_jump() -> None:
    assert findings(CODE, nights((10, 50), (50, 10), (10, 90)), LOW_FLOOR) == []


def test_the_last_second_of_a_date_and_the_first_of_the_next_count() -> None:
    dark = [("00:00", 0)]
    last = Day(first=on(1), levels={"weak": [("00:00", 10), ("23:59:59", 50)], "strong": dark})
    first = Day(first=on(2), levels={"weak": [("00:00", 90), ("00:00:01", 10)], "strong": dark})
    message = finding(CODE, handmade(LOW_FLOOR, last, first), LOW_FLOOR).message
    assert "from 50 to 90 % of full at once" in message


def test_dates_with_the_same_rows_are_no_change_of_table() -> None:
    # 50 % at the end of each date, 10 % as the next begins, on dates that stand apart
    assert findings(CODE, nights((10, 50), (10, 50), (10, 50)), LOW_FLOOR) == []


def test_one_table_follows_no_other() -> None:
    assert findings(CODE, nights((10, 50)), LOW_FLOOR) == []


def test_the_channel_that_jumps_is_marked() -> None:
    found = finding(CODE, nights((10, 10), (50, 50), id="strong"), LOW_FLOOR)
    assert marked(found, LOW_FLOOR) == (33, 3, "strong")


@pytest.mark.parametrize(
    ("after_last_row", "words"),
    [("wrap", "`after_last_row: hold`"), ("hold", "light that follows the sky")],
)
def test_the_way_out_goes_by_what_follows_the_last_row(after_last_row: str, words: str) -> None:
    text = LOW_FLOOR.replace("after_last_row: wrap", f"after_last_row: {after_last_row}")
    found = finding(CODE, nights((10, 10), (50, 50), text=text), text)
    assert found.help.startswith("let the channel be dark at midnight on the controller's clock; ")
    assert words in found.help
