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
    with_channel,
)

CODE = "PHO401"

#: The port ends at 5 V, and 5 V is half of full light.
HALF_PORT = bench(("most_volts: 10.0", "most_volts: 5.0"))
AT_MOST_HALF = Day(levels={"weak": [("08:00", 40), ("18:00", 0)],
                           "strong": [("08:00", 50), ("18:00", 0)]})  # fmt: skip


def test_a_port_that_ends_at_five_volts_does_not_reach_eighty_per_cent() -> None:
    assert_found(
        CODE,
        [("most_volts: 10.0", "most_volts: 5.0")],
        (26, 3, "blue"),
        "'blue' asks for 80 % light, but the 5 V of the port give 25 %",
    )


@pytest.mark.parametrize(
    ("most_volts", "is_found"),
    [(4.9, False), (5.0, False), (5.0 + 1e-9, False), (5.0 + 1.05e-9, True), (5.00014, True)],
)
def test_a_table_may_use_all_volts_of_the_port(most_volts: float, is_found: bool) -> None:
    program = with_channel(handmade(HALF_PORT, AT_MOST_HALF), "weak", most_volts=most_volts)
    program = with_channel(program, "weak", wanted_peak=0.4)
    found = [d for d in findings(CODE, program, HALF_PORT) if "the table of" in d.message]
    assert len(found) == is_found
    if found:
        told = "5.0001" if most_volts > 5.0001 else "5"
        assert (
            f"the table of 'weak' reaches {told} V, above the 5 V of the port" in found[0].message
        )
        assert marked(found[0], HALF_PORT) == (28, 3, "weak")


def test_a_table_of_the_whole_port_is_fine_and_the_strongest_level_counts() -> None:
    full = Day(levels={"weak": [("08:00", 10), ("09:00", 100), ("18:00", 0)]})
    assert findings(CODE, handmade(bench(), full)) == []
    high = with_channel(handmade(), "strong", most_volts=10.5)
    assert "reaches 10.5 V, above the 10 V of the port" in finding(CODE, high).message
    assert marked(finding(CODE, high)) == (33, 3, "strong")


@pytest.mark.parametrize(
    ("wanted", "is_found"), [(0.5, False), (0.5 + 0.005, False), (0.5051, True)]
)
def test_half_a_per_cent_of_light_may_be_missing_at_the_top(wanted: float, is_found: bool) -> None:
    program = with_channel(handmade(HALF_PORT, AT_MOST_HALF), "weak", wanted_peak=0.4)
    program = with_channel(program, "strong", wanted_peak=wanted)
    found = findings(CODE, program, HALF_PORT)
    assert len(found) == is_found
    if found:
        assert (
            "'strong' asks for 50.51 % light, but the 5 V of the port give 50 %" in found[0].message
        )
        assert "at most 50 %" in found[0].help
        assert "10 V" in found[0].help
        assert marked(found[0], HALF_PORT) == (33, 3, "strong")


def test_the_volts_of_the_port_count_not_the_levels_of_the_table() -> None:
    # The port gives 55 %; levels of 10 % end at 50 %.
    text = bench(("most_volts: 10.0", "most_volts: 5.5"), ("step: 1,", "step: 10,"))
    low = Day(levels={"weak": [("08:00", 4), ("18:00", 0)], "strong": [("08:00", 5), ("18:00", 0)]})
    program = with_channel(handmade(text, low), "weak", wanted_peak=0.55)
    assert findings(CODE, with_channel(program, "strong", wanted_peak=0.55), text) == []


def test_both_channels_are_found_in_the_order_of_the_file() -> None:
    found = findings(CODE, handmade(HALF_PORT, AT_MOST_HALF), HALF_PORT)
    assert [marked(each, HALF_PORT) for each in found] == [(28, 3, "weak"), (33, 3, "strong")]


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    program = with_channel(two_dates(), "weak", table, most_volts=10.5)
    assert_only_in_table(CODE, program, table)
