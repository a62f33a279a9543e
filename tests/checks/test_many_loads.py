from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.checks.many_loads import MOST_TYPED
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dates import DateSpan
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
    schedule_of,
)
from tests.conftest import ROOT, compiled

CODE = "PHO432"
HELD = "  setpoints_per_channel: 24\n"
MOON = (
    "    day: {kind: points, points: [{time: 08:00, light_percent: 60}, {time: 18:00, light_percent: 60}]}\n",
    "    moonlight: {kind: phase, full_light_percent: 60, start: 20:00, end: 06:00}\n",
)
PLACE = (
    "controller:\n",
    "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n",
)


def loads(*firsts: dt.date, held: int = 1, by: str = "hand") -> list[Diagnostic]:
    """Return the findings on tables that begin on some dates, each with another level."""
    controller = f"{HELD}  tables: {held}\n  loaded_by: {by}\n"
    return findings(CODE, program_of(bench((HELD, controller)), *firsts))


def program_of(text: str, *firsts: dt.date) -> Program:
    return handmade(
        text,
        *(
            Day(levels={"weak": [("08:00", 20 + n), ("18:00", 0)]}, first=first)
            for n, first in enumerate(firsts)
        ),
    )


def march(count: int) -> list[dt.date]:
    return [on(n + 1) for n in range(count)]


def test_new_tubes_in_a_controller_of_one_table() -> None:
    assert_found(
        CODE,
        [("  blue-a: {watts: 54}", "  blue-a: {watts: 54, fitted: 2027-03-02, burn_in_full_hours: 12}")],
        (3, 1, "controller"),
        "3 tables, and the controller holds 1 at once: 3 loads, on 2027-03-01, 2027-03-02 and 2027-03-04",
    )  # fmt: skip


@pytest.mark.parametrize("by", ["hand", "file"])
def test_more_tables_than_the_controller_holds(by: str) -> None:
    assert loads(*march(2), held=2, by=by) == []
    (found,) = loads(*march(3), held=2, by=by)
    assert marked(found) == (3, 1, "controller")
    assert found.message == (
        "3 tables, and the controller holds 2 at once: 2 loads, on 2027-03-01 and 2027-03-03"
    )


def test_of_many_loads_the_fullest_month_is_told() -> None:
    firsts = [*march(2), dt.date(2027, 4, 1), dt.date(2027, 4, 8), dt.date(2027, 4, 9)]
    (found,) = loads(*firsts)
    assert found.message == (
        "5 tables, and the controller holds 1 at once: 5 loads, 3 of them in 2027-04"
    )


def test_tables_that_a_person_types() -> None:
    assert loads(*march(MOST_TYPED), held=10) == []
    (found,) = loads(*march(MOST_TYPED + 1), held=10)
    assert found.message == "5 tables to type in by hand in 2027-03"
    assert loads(*march(MOST_TYPED + 1), held=10, by="file") == []


def test_tables_are_typed_in_the_month_of_their_load() -> None:
    # Two loads of three tables: one in March, with a table of April in it, and one in April.
    firsts = [on(30), on(31), *(dt.date(2027, 4, day) for day in (1, 2, 3, 4))]
    (found,) = loads(*firsts, held=3)
    assert "to type" not in found.message
    (found,) = loads(*firsts, held=5)
    assert found.message.endswith("; 5 tables to type in by hand in 2027-03")


def test_a_day_without_a_date_is_loaded_once() -> None:
    assert findings(CODE, handmade(bench())) == []
    assert findings(CODE, handmade(bench(), Day(first=on(1), last=on(9)))) == []


def test_the_ways_out_are_those_that_help() -> None:
    text = bench()
    plain = finding(CODE, program_of(text, *march(2)), text).help
    assert plain.startswith(
        "let the controller read a file (`export csv`, with `loaded_by: file`); or play the tables"
    )
    assert "dated_tables" not in plain and "lit_hours" not in plain

    burning = program_of(text, *march(2))
    plan = replace(burning.tables[1].plan, windows={"weak": (36_000, 64_800)})
    burning = replace(burning, tables=(burning.tables[0], replace(burning.tables[1], plan=plan)))
    assert "burn tubes in elsewhere" in finding(CODE, burning, text).help

    moonlit = bench(PLACE, MOON)
    schedule = replace(program_of(text, *march(2)), schedule=schedule_of(moonlit))
    help = finding(CODE, schedule, moonlit).help
    assert "`{tables: 12}`" in help and "the sun and the moon apart" in help

    for asked, is_number, may_part in (
        ("{tables: 4}", True, False),
        ("{sun: {tables: 4}, moon: {light_error_percent: 9}}", True, False),
        ("{sun: {light_error_percent: 9}, moon: {tables: 12}}", True, False),
        ("{sun: {light_error_percent: 9}, moon: {light_error_percent: 9}}", False, False),
        ("{light_error_percent: 9}", False, True),
    ):
        few = f"{moonlit}dated_tables: {asked}\n"
        help = finding(CODE, replace(schedule, schedule=schedule_of(few)), few).help
        assert ("than `dated_tables` does now" in help) == is_number
        assert ("`{tables: 12}`" in help) == (not is_number)
        assert ("the sun and the moon apart" in help) == may_part

    by_file = bench((HELD, f"{HELD}  loaded_by: file\n"))
    assert "export csv" not in finding(CODE, program_of(by_file, *march(2)), by_file).help


def test_fittings_near_each_other_may_share_their_loads() -> None:
    # blue on 2 March, white on 9 March: a week apart
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    text = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")
    (found,) = [each for each in compiled(text, march).report if each.code == "PHO432"]
    assert "fit tubes of near dates on one date" in found.help
    far = text.replace("fitted: 2027-03-09T08:00", "fitted: 2027-06-09T08:00")
    (found,) = [each for each in compiled(far, march).report if each.code == "PHO432"]
    assert "near dates" not in found.help
