from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from photoperiod.program.model import Program
from photoperiod.setpoints.fit import Method
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
    with_fit,
)
from tests.conftest import changed, compiled

CODE = "PHO410"


def straying(error: float, peak: float = 0.8, **proof: Any) -> Program:
    program = with_channel(handmade(), "weak", reachable_peak=peak)
    certificate = replace(program.channels["weak"].fit.certificate, **proof)
    return with_fit(program, "weak", worst_light_error=error, certificate=certificate)


def test_three_rows_for_a_day_of_ramps() -> None:
    assert_found(
        CODE,
        [("setpoints_per_channel: 16", "setpoints_per_channel: 3")],
        (26, 3, "blue"),
        "more than a tolerance of 30 s explains",
    )


# 5 % of full; of a channel with a peak of 3 % a third of that, 1 %; 5 % is a third of 15 %.
@pytest.mark.parametrize(
    ("peak", "error", "is_found"),
    [
        (0.8, 0.049, False), (0.8, 0.05, False), (0.8, 0.051, True),
        (0.03, 0.009, False), (0.03, 0.0099, False), (0.03, 0.0101, True),
        (0.15, 0.0499, False), (0.15, 0.051, True), (0.149, 0.0499, True),
    ],
)  # fmt: skip
def test_five_per_cent_or_a_third_of_the_peak(peak: float, error: float, is_found: bool) -> None:
    assert len(findings(CODE, straying(error, peak))) == is_found


@pytest.mark.parametrize(("error", "is_found"), [(0.019, False), (0.02, False), (0.021, True)])
def test_a_moon_that_waxes_may_be_half(error: float, is_found: bool) -> None:
    program = replace(straying(error, 0.04), moon_nights={"weak": (9, 10, 0)})
    assert len(findings(CODE, program)) == is_found


@pytest.mark.parametrize(("wanted", "is_found"), [("1", True), ("0.51", False), ("1.62", False)])
def test_a_dim_light_between_two_levels_is_told_with_both(wanted: str, is_found: bool) -> None:
    """By hand: 10 % are code 410, 1.0010 V; 11 % are code 451, 1.1011 V; from 0.5 % at 1 V to 100 % at 10 V.

    So 0.5 + 99.5 × 0.0010 / 9 = 0.51 % and 0.5 + 99.5 × 0.1011 / 9 = 1.62 %. 1 % lies between.
    """
    text = changed(
        ("response: {kind: square-law}", "response: {kind: linear}"),
        ("light_percent: 1}", "light_percent: 0.5}"),
        (
            "    day:\n      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
            "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
            "    moonlight: {kind: steady, light_percent: WANTED, start: 22:00, end: 02:00}\n",
        ),
    )
    report = compiled(text.replace("WANTED", wanted)).report
    found = [each for each in report if each.code == CODE]
    assert len(found) == is_found
    for each in found:
        assert each.message.startswith("'blue' gives 0.5 % light at 00:00 where 1 % is wanted")
        assert each.help == (
            "its levels give 0.51 % and 1.62 % light: plan one of these, or use a finer level step"
        )


def test_light_and_wish_are_told_at_the_worst_second() -> None:
    # at 09:00 weak gives and wants 80 %, at 20:00 nothing
    program = with_fit(straying(0.07), "weak", worst_second=9 * 3600)
    found = finding(CODE, program)
    assert marked(found) == (28, 3, "weak")
    assert found.message == (
        "'weak' gives 80 % light at 09:00 where 80 % is wanted, 7 % more than a tolerance of 450 s"
        " explains"
    )
    reachable = program.channels["strong"].reachable  # 60 % from 08:00 to 18:00
    wanted = program.channels["weak"].curve_and_target()
    other = (wanted[0], replace(wanted[1], reachable=reachable))
    program = with_channel(program, "weak", curve_and_target=lambda: other)
    assert "gives 80 % light at 09:00 where 60 % is wanted" in finding(CODE, program).message


def test_light_is_told_to_a_tenth_of_a_per_cent() -> None:
    # from 10.4 % at 1 V to 100 % at 10 V: at 8 V 0.104 + 0.896 × 7 / 9 = 0.80089
    text = bench(("light_percent: 10}", "light_percent: 10.4}"))
    program = with_fit(handmade(text), "weak", worst_light_error=0.2037, worst_second=9 * 3600)
    curve, target = program.channels["weak"].curve_and_target()
    other = replace(target, reachable=np.full(86_400, 0.6031))
    program = with_channel(program, "weak", curve_and_target=lambda: (curve, other))
    message = finding(CODE, program, text).message
    assert "gives 80.1 % light at 09:00 where 60.3 % is wanted, 20.4 % more than" in message


def test_only_the_channel_that_strays_is_found() -> None:
    program = with_fit(handmade(), "strong", worst_light_error=0.06)
    assert marked(finding(CODE, program)) == (33, 3, "strong")


# The table of weak has 2 rows.
@pytest.mark.parametrize(
    ("method", "proof", "words"),
    [
        (Method.SIMPLIFICATION, {"floor_rows": 2, "half_rows": 4}, "slower or fewer ramps, or more rows"),
        (Method.EXACT, {"floor_rows": 1, "half_rows": 4}, "no number of rows does better"),
        (Method.EXACT, {"floor_rows": 2, "half_rows": 4}, "no number of rows does better"),
        (Method.EXACT, {"floor_rows": 3, "half_rows": 4}, "other table of 2 rows does better; 4 would halve"),
        (Method.EXACT, {"floor_rows": None, "half_rows": 5}, "no other table of 2 rows does better; 5 would"),
        (Method.EXACT, {"floor_rows": 3}, "no other table of 2 rows does better; more rows or slower ramps"),
    ],
)  # fmt: skip
def test_the_way_out_is_what_is_proven(method: Method, proof: dict[str, Any], words: str) -> None:
    program = with_fit(straying(0.06, **proof), "weak", method=method)
    assert words in finding(CODE, program).help


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    program = with_fit(two_dates(), "weak", table, worst_light_error=0.06)
    assert_only_in_table(CODE, program, table)
