from __future__ import annotations

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

CODE = "PHO416"

#: A schedule that does not say how its controller rounds: `half-up` is assumed.
UNSTATED = bench((", rounding: half-up", ""))


def rounding(text: str = UNSTATED, table: int = 0, **errors: dict[str, float]) -> Program:
    program = handmade(text)
    for id, of_channel in errors.items():
        program = with_channel(program, id, table, rounding_errors=of_channel)
    return program


def test_a_coarse_level_step() -> None:
    assert_found(
        CODE,
        [("step: 1,", "step: 5,"), (", rounding: half-up", "")],
        (11, 3, "emits"),
        "would change 'blue' by up to",
    )


@pytest.mark.parametrize(("error", "is_found"), [(0.019, False), (0.02, False), (0.021, True)])
def test_two_per_cent_of_light(error: float, is_found: bool) -> None:
    program = rounding(weak={"down": error, "toward-last-row": 0.0}, strong={})
    found = findings(CODE, program, UNSTATED)
    assert len(found) == is_found
    if found:
        assert marked(found[0], UNSTATED) == (11, 3, "emits")
        assert found[0].message == (
            "a controller that rounds 'down' instead of 'half-up' would change 'weak' by up to 2.1 %"
            " of full light"
        )


def test_the_change_is_told_to_a_tenth_of_a_per_cent() -> None:
    program = rounding(weak={"down": 0.5432})
    assert "by up to 54.3 % of full" in finding(CODE, program, UNSTATED).message


def test_one_finding_for_the_channel_and_rounding_that_matter_most() -> None:
    program = rounding(
        weak={"down": 0.03, "toward-last-row": 0.04}, strong={"down": 0.05, "toward-last-row": 0.02}
    )
    assert "rounds 'down' instead of 'half-up' would change 'strong' by up to 5 %" in (
        finding(CODE, program, UNSTATED).message
    )


def test_a_rounding_that_is_stated_is_believed() -> None:
    text = bench()
    assert findings(CODE, rounding(text, weak={"down": 0.5}), text) == []


def test_levels_that_are_held_are_never_rounded() -> None:
    assert findings(CODE, handmade(UNSTATED), UNSTATED) == []
    assert findings(CODE, rounding(weak={}, strong={}), UNSTATED) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    program = with_channel(two_dates(UNSTATED), "weak", table, rounding_errors={"down": 0.03})
    assert_only_in_table(CODE, program, table)
