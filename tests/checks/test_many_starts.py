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

CODE = "PHO411"


def starting(times: int) -> list[tuple[str, int]]:
    """Return rows that light an hour and go dark an hour, from 08:00 on."""
    rows = []
    for n in range(times):
        rows += [(f"{8 + 2 * n:02d}:00", 50), (f"{9 + 2 * n:02d}:00", 0)]
    return rows or [("08:00", 0)]


def test_a_day_of_three_stretches() -> None:
    assert_found(
        CODE,
        [("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
          "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
          "      kind: points\n      points:\n" + "".join(
              f"        - {{time: {time}, light_percent: {light}}}\n"
              for time, light in (("09:00", 50), ("12:00", 50), ("12:00", 0), ("13:00", 0),
                                  ("13:00", 50), ("15:00", 50), ("15:00", 0), ("16:00", 0),
                                  ("16:00", 50), ("20:00", 50))))],
        (26, 3, "blue"),
        "the tubes of 'blue' start 3 times a day",
    )  # fmt: skip


@pytest.mark.parametrize(("times", "is_found"), [(0, False), (1, False), (2, False), (3, True)])
def test_two_starts_a_day_are_fine(times: int, is_found: bool) -> None:
    program = handmade(bench(), Day(levels={"strong": starting(times)}))
    found = findings(CODE, program)
    assert len(found) == is_found
    if found:
        assert marked(found[0]) == (33, 3, "strong")
        assert found[0].message == "the tubes of 'strong' start 3 times a day"


def test_both_channels_are_found_each_with_its_number() -> None:
    program = handmade(bench(), Day(levels={"weak": starting(4), "strong": starting(3)}))
    assert [(marked(each), each.message) for each in findings(CODE, program)] == [
        ((28, 3, "weak"), "the tubes of 'weak' start 4 times a day"),
        ((33, 3, "strong"), "the tubes of 'strong' start 3 times a day"),
    ]


def test_a_stretch_across_midnight_starts_once() -> None:
    rows = [("02:00", 0), ("08:00", 50), ("10:00", 0), ("22:00", 50)]
    assert findings(CODE, handmade(bench(), Day(levels={"weak": rows}))) == []


def test_lamps_without_tubes_may_start_as_often_as_they_like() -> None:
    text = bench(("    tubes: [tube-b]\n", ""), ("  tube-b: {watts: 54}\n", ""))
    day = Day(levels={"weak": starting(3), "strong": starting(5)})
    found = finding(CODE, handmade(text, day), text)
    assert marked(found, text) == (27, 3, "weak")


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: Day(levels={"weak": starting(3)})}
    assert_only_in_table(CODE, two_dates(bench(), days.get(0), days.get(1)), table)
