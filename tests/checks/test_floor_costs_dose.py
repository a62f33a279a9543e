from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.channel_day import Amounts
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
)
from tests.conftest import changed, compiled

CODE = "PHO409"


def hours(plan: float, reachable: float) -> Amounts:
    return Amounts(plan=plan, reachable=reachable, replay=8.0)


def changed_to(plan: float, reachable: float, id: str = "weak") -> Program:
    return with_channel(handmade(), id, full_light_hours=hours(plan, reachable))


def test_a_plan_of_half_the_floor() -> None:
    assert_found(
        CODE,
        [
            ("light_percent: 80}", "light_percent: 1.0}"),
            ("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 2.0, light_percent: 2}"),
        ],
        (26, 3, "blue"),
        "change the day of 'blue' from 0.11",
    )


def test_a_port_of_3_3_volts_brings_no_advice_on_floor_or_dose() -> None:
    """3.3 V of 10 V give (0.33)² = 10.9 % on a square law; 80 % is planned: only PHO401 can help."""
    found = compiled(changed(("full_scale_volts: 10.0", "full_scale_volts: 3.3"))).report
    helps = {each.code: each.help for each in found}
    assert helps[CODE] == helps["PHO405"] == ""
    assert "plan at most 10.9 %" in helps["PHO401"]


# Two per cent of 10 h are 0.2 h.
@pytest.mark.parametrize(
    ("reachable", "is_found"),
    [(10.0, False), (10.19, False), (10.2, False), (10.21, True),
     (9.81, False), (9.8, False), (9.79, True)],
)  # fmt: skip
def test_two_per_cent_either_way(reachable: float, is_found: bool) -> None:
    assert len(findings(CODE, changed_to(10.0, reachable))) == is_found


@pytest.mark.parametrize(("reachable", "is_found"), [(1e-6, False), (1.1e-6, True)])
def test_from_nothing_a_millionth_of_an_hour(reachable: float, is_found: bool) -> None:
    found = findings(CODE, changed_to(0.0, reachable))
    assert len(found) == is_found
    if found:
        assert "from 0 to 0 full-light hours (from nothing)" in found[0].message


@pytest.mark.parametrize(("id", "line"), [("weak", 28), ("strong", 33)])
def test_the_channel_is_marked(id: str, line: int) -> None:
    found = finding(CODE, changed_to(8.0, 6.0, id))
    assert marked(found) == (line, 3, id)
    assert found.message == (
        f"the floor of 'pair' and the port's top change the day of '{id}' from 8 to 6 full-light"
        " hours (-25.0 %)"
    )


def test_the_channels_of_bench_lose_nothing() -> None:
    assert findings(CODE, handmade()) == []


@pytest.mark.parametrize("role", ["full", "dark", "gives-way"])
def test_a_day_that_is_not_by_the_plan_has_another_dose_on_purpose(role: str) -> None:
    assert findings(CODE, with_channel(changed_to(8.0, 6.0), "weak", role=role)) == []


def test_a_moon_by_phase_is_for_another_check() -> None:
    program = replace(changed_to(8.0, 6.0), moon_nights={"weak": (3, 5, 0)})
    assert findings(CODE, program) == []
    program = replace(changed_to(8.0, 6.0), moon_nights={"strong": (3, 5, 0)})
    assert len(findings(CODE, program)) == 1


def test_a_ballast_that_is_never_dark_is_for_another_check() -> None:
    text = bench(
        ("    dark: {kind: relay}\n", "    dark: {kind: never}\n"),
        ("  relay: {kind: column}\n", "  relay: {kind: none}\n"),
    )
    program = with_channel(handmade(text), "weak", full_light_hours=hours(8.0, 9.4))
    assert findings(CODE, program, text) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    program = with_channel(two_dates(bench(), Day(), Day()), "weak", table,
                           full_light_hours=hours(8.0, 6.0))  # fmt: skip
    assert_only_in_table(CODE, program, table)
