from __future__ import annotations

import pytest

from tests.checks.bench import (
    Day,
    assert_found,
    assert_only_in_table,
    bench,
    finding,
    findings,
    handmade,
    marked,
    two_dates,
)

CODE = "PHO417"


def test_moonlight_five_minutes_after_dusk() -> None:
    assert_found(
        CODE,
        [("      dusk: {end: 21:00, minutes: 60}\n", "      dusk: {end: 21:00, minutes: 60}\n"
          "    moonlight: {kind: steady, light_percent: 2, start: 21:05, end: 23:00}\n")],
        (26, 3, "blue"),
        "'blue' goes dark at 21:00 for 5 min and lights again",
    )  # fmt: skip


def strong(*rows: tuple[str, int]) -> Day:
    return Day(levels={"strong": rows})


@pytest.mark.parametrize(
    ("end", "is_found"), [("12:15:01", False), ("12:15", False), ("12:14:59", True)]
)
def test_a_quarter_of_an_hour_is_no_short_gap(end: str, is_found: bool) -> None:
    day = strong(("08:00", 60), ("12:00", 0), (end, 60), ("18:00", 0))
    found = findings(CODE, handmade(bench(), day))
    assert len(found) == is_found
    if found:
        assert marked(found[0]) == (33, 3, "strong")
        assert found[0].message == "'strong' goes dark at 12:00 for 15 min and lights again"


def test_a_gap_of_ninety_seconds() -> None:
    day = strong(("08:00", 60), ("12:00", 0), ("12:01:30", 60), ("18:00", 0))
    assert "goes dark at 12:00 for 1.5 min" in finding(CODE, handmade(bench(), day)).message


def test_a_gap_of_one_second() -> None:
    day = strong(("08:00", 60), ("12:00", 0), ("12:00:01", 60), ("18:00", 0))
    assert "goes dark at 12:00 for 0 min" in finding(CODE, handmade(bench(), day)).message


@pytest.mark.parametrize(
    ("begin", "end", "is_found"),
    [("23:55", "00:09:59", True), ("23:55", "00:10", False),
     ("23:55", "00:00", True), ("00:00", "00:10", True)],
)  # fmt: skip
def test_a_gap_may_lie_across_midnight(begin: str, end: str, is_found: bool) -> None:
    rows = sorted([(end, 60), (begin, 0)])
    found = findings(CODE, handmade(bench(), strong(*rows)))
    assert len(found) == is_found
    if found:
        assert f"goes dark at {begin} for" in found[0].message


def test_the_gap_is_measured_to_the_next_light_not_to_the_first_of_the_day() -> None:
    # dark 10:00 to 10:10 and 14:00 to 14:05; lit from 08:00
    day = strong(
        ("08:00", 60), ("10:00", 0), ("10:10", 60), ("14:00", 0), ("14:05", 60), ("18:00", 0)
    )
    assert [each.message for each in findings(CODE, handmade(bench(), day))] == [
        "'strong' goes dark at 10:00 for 10 min and lights again",
        "'strong' goes dark at 14:00 for 5 min and lights again",
    ]


def test_only_the_short_one_of_two_gaps_is_found() -> None:
    day = strong(
        ("08:00", 60), ("10:00", 0), ("12:00", 60), ("14:00", 0), ("14:05", 60), ("18:00", 0)
    )
    assert "goes dark at 14:00 for 5 min" in finding(CODE, handmade(bench(), day)).message


def test_each_channel_is_looked_at_by_itself() -> None:
    # strong is lit while weak is dark
    rows = [("08:00", 60), ("12:00", 0), ("12:05", 60), ("18:00", 0)]
    found = finding(CODE, handmade(bench(), Day(levels={"weak": rows})))
    assert marked(found) == (28, 3, "weak")


@pytest.mark.parametrize("rows", [[("00:00", 0)], [("00:00", 60)], [("08:00", 60), ("18:00", 0)]])
def test_a_day_without_a_gap(rows: list[tuple[str, int]]) -> None:
    assert findings(CODE, handmade(bench(), strong(*rows))) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: strong(("08:00", 60), ("12:00", 0), ("12:05", 60), ("18:00", 0))}
    assert_only_in_table(CODE, two_dates(bench(), days.get(0), days.get(1)), table)
