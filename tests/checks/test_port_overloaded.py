from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.model import Program
from tests.checks.bench import (
    assert_found,
    assert_only_in_table,
    bench,
    finding,
    findings,
    handmade,
    marked,
    two_dates,
    with_channel,
)
from tests.conftest import changed, compiled

CODE = "PHO412"


def ballasts(count: int, of: str = "tube-b") -> str:
    return bench((f"tubes: [{of}]", f"tubes: [{of}]\n    ballast_count: {count}"))


def test_eleven_ballasts() -> None:
    assert_found(
        CODE,
        [("    ballast: pair\n", "    ballast: pair\n    ballast_count: 11\n")],
        (26, 3, "blue"),
        "the 11 ballasts of 'blue' source up to 22 mA, the port sinks 20 mA",
    )


# Each ballast sources 2 mA unless its data sheet says otherwise; the port sinks 20 mA.
@pytest.mark.parametrize(("count", "is_found"), [(9, False), (10, False), (11, True)])
def test_ten_ballasts_of_two_milliamps(count: int, is_found: bool) -> None:
    text = ballasts(count)
    found = findings(CODE, handmade(text), text)
    assert len(found) == is_found
    if found:
        assert marked(found[0], text) == (33, 3, "strong")


@pytest.mark.parametrize(
    ("milliamps", "count", "is_found"),
    [(0.5, 40, False), (0.5, 41, True), (5, 4, False), (5, 5, True)],
)
def test_the_current_of_the_data_sheet_counts(milliamps: float, count: int, is_found: bool) -> None:
    text = ballasts(count).replace(
        "    below_floor: nearest\n",
        f"    below_floor: nearest\n    control_milliamps: {milliamps}\n",
    )
    found = findings(CODE, handmade(text), text)
    assert len(found) == is_found
    if found:
        assert (
            f"the {count} ballasts of 'strong' source up to {milliamps * count:g} mA"
            in found[0].message
        )


@pytest.mark.parametrize(("sink", "is_found"), [(22.1, False), (22, False), (21.9, True)])
def test_the_port_counts(sink: float, is_found: bool) -> None:
    text = ballasts(11).replace("sink_milliamps: 20", f"sink_milliamps: {sink}")
    found = findings(CODE, handmade(text), text)
    assert [each.message for each in found] == [
        f"the 11 ballasts of 'strong' source up to 22 mA, the port sinks {sink:g} mA"
    ] * is_found


def test_each_channel_has_a_port_of_its_own() -> None:
    text = ballasts(10).replace("tubes: [tube-a]", "tubes: [tube-a]\n    ballast_count: 10")
    assert findings(CODE, handmade(text), text) == []
    text = ballasts(12, "tube-a")
    assert marked(finding(CODE, handmade(text), text), text) == (28, 3, "weak")


def test_without_the_current_of_the_port_it_is_told_that_nothing_was_checked() -> None:
    no_port = ("  port: {most_volts: 10.0, sink_milliamps: 20}\n", "")
    text = bench(no_port)
    assert findings(CODE, handmade(text), text) == []
    outcome = compiled(changed(no_port), None)
    assert outcome.report.not_run["port-overloaded"] == "needs controller.port.sink_milliamps"


def with_ballasts(program: Program, table: int, count: int) -> Program:
    channel = program.tables[table].channels["weak"].channel
    return with_channel(program, "weak", table, channel=replace(channel, ballast_count=count))


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    assert_only_in_table(CODE, with_ballasts(two_dates(), table, 11), table)
