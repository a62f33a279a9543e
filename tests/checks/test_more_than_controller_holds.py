from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.model import Program
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
    with_fit,
)

CODE = "PHO404"
MOON = (
    "channels:\n",
    "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
    "    moonlight: {kind: steady, light_percent: 2, start: 21:00, end: 09:00}\n",
)


def test_a_controller_of_one_row() -> None:
    assert_found(
        CODE,
        [("setpoints_per_channel: 16", "setpoints_per_channel: 1")],
        (26, 3, "blue"),
        "'blue' needs 2 rows to light and go dark as planned, the controller holds 1",
    )


def test_a_controller_of_one_channel() -> None:
    assert_found(
        CODE,
        [("  channels: 2\n", "  channels: 1\n"), MOON],
        (5, 13, "1"),
        "the plan has 2 channels, the controller drives 1",
    )


@pytest.mark.parametrize(("channels", "is_found"), [(3, False), (2, False), (1, True)])
def test_two_channels_fit_a_controller_of_two(channels: int, is_found: bool) -> None:
    text = bench(("channels: 4", f"channels: {channels}"))
    found = findings(CODE, handmade(text), text)
    assert [marked(each, text) for each in found] == [(5, 13, str(channels))] * is_found


def test_a_controller_that_does_not_state_its_channels_drives_them_all() -> None:
    text = bench(("  channels: 4\n", ""))
    assert findings(CODE, handmade(text), text) == []


#: A table of three rows, beside the two of the other channel.
THREE_ROWS = Day(levels={"strong": [("08:00", 60), ("12:00", 70), ("18:00", 0)]})


@pytest.mark.parametrize(("held", "is_found"), [(4, False), (3, False), (2, True)])
def test_three_rows_fit_a_controller_of_three(held: int, is_found: bool) -> None:
    text = bench(("setpoints_per_channel: 24", f"setpoints_per_channel: {held}"))
    program = with_fit(handmade(text, THREE_ROWS), "strong", rows_needed=3)
    found = findings(CODE, program, text)
    assert len(found) == is_found
    if found:
        assert marked(found[0], text) == (33, 3, "strong")
        assert found[0].message == (
            "'strong' needs 3 rows to light and go dark as planned, the controller holds 2"
        )
        assert "each channel" not in found[0].help


def test_where_channels_share_their_times_the_way_out_names_that() -> None:
    text = bench(
        ("setpoints_per_channel: 24", "setpoints_per_channel: 2\n  shared_times: true"),
    )
    assert "separate times for each channel" in finding(CODE, handmade(text, THREE_ROWS), text).help


def straying(held: int, error: float, **proof: float | int | None) -> tuple[str, Program]:
    text = bench(("setpoints_per_channel: 24", f"setpoints_per_channel: {held}"))
    program = handmade(text, THREE_ROWS)
    certificate = replace(program.channels["strong"].fit.certificate, error=error, **proof)
    program = with_fit(program, "strong", worst_light_error=error, certificate=certificate)
    # The plan of strong has a peak of 60 %; a table is one of another day from 30 % on.
    assert program.channels["strong"].reachable_peak == 0.6
    return text, program


@pytest.mark.parametrize(("error", "is_found"), [(0.29, False), (0.3, False), (0.31, True)])
def test_light_wrong_by_more_than_half_the_peak(error: float, is_found: bool) -> None:
    text, program = straying(3, error)
    found = findings(CODE, program, text)
    assert len(found) == is_found
    if found:
        assert marked(found[0], text) == (33, 3, "strong")
        assert found[0].message == (
            "3 rows are too few for the day of 'strong': its light would be wrong by 31 % of full"
            " where the peak is 60 %"
        )
        assert "going dark and lighting takes most of them" in found[0].help


def test_rows_that_help_are_named() -> None:
    text, program = straying(3, 0.31, floor=0.01, floor_rows=7)
    assert "more than 7 do not help" in finding(CODE, program, text).help


def test_what_no_number_of_rows_mends_is_no_fault_of_the_controller() -> None:
    # 0.31 is within 1.05 × 0.3, the least error of any number of rows
    text, program = straying(3, 0.31, floor=0.3)
    assert findings(CODE, program, text) == []


def test_a_table_that_does_not_fit_is_found_once_even_if_it_strays() -> None:
    text, program = straying(2, 0.31)
    assert "needs 2 rows" in finding(CODE, program, text).message


def test_a_dark_channel_can_not_stray() -> None:
    program = with_fit(handmade(), "weak", worst_light_error=0.5)
    assert findings(CODE, with_channel(program, "weak", reachable_peak=0.0)) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    text = bench(("setpoints_per_channel: 24", "setpoints_per_channel: 2"))
    days = {table: THREE_ROWS}
    assert_only_in_table(CODE, two_dates(text, days.get(0), days.get(1)), table)
