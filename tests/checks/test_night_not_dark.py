from __future__ import annotations

import pytest

from photoperiod.diagnostics.codes import Severity
from tests.checks.bench import (
    SPAN,
    Day,
    assert_found,
    assert_only_in_table,
    bench,
    finding,
    findings,
    found_in,
    handmade,
    marked,
    two_dates,
    with_channel,
)
from tests.conftest import SCHEDULE, changed, compiled

CODE = "PHO403"

NEVER = ("    dark: {kind: relay}\n", "    dark: {kind: never}\n")
NO_RELAY = ("  relay: {kind: column}\n", "  relay: {kind: none}\n")

#: Only `strong` has a ballast that is never dark.
STRONG_NEVER = bench(
    ("tubes:\n  tube-a", "  other:\n    response: {kind: linear}\n"
     "    floor: {volts: 1.0, light_percent: 10}\n    full_volts: 10.0\n    dark: {kind: never}\n"
     "    below_floor: nearest\ntubes:\n  tube-a"),
    ("    ballast: pair\n    tubes: [tube-b]", "    ballast: other\n    tubes: [tube-b]"),
)  # fmt: skip


def test_a_ballast_that_nothing_makes_dark() -> None:
    assert_found(
        CODE,
        [NEVER, NO_RELAY],
        (27, 14, "pair"),
        "'blue' is never dark: ballast 'pair' holds 1 % light all night",
    )


def test_a_channel_that_is_wanted_lit_all_day_is_no_broken_night() -> None:
    day = SCHEDULE[SCHEDULE.index("    day:\n") : SCHEDULE.index("tank: bench")]
    always = (
        "    day: {kind: points, points: [{time: 00:00, light_percent: 50},"
        " {time: 24:00, light_percent: 50}]}\n"
    )
    outcome = compiled(changed(NEVER, NO_RELAY, (day, always)), SPAN)
    assert CODE not in {d.code for d in outcome.report}


@pytest.mark.parametrize(
    ("points", "is_found"),
    [
        ([("00:00", 50), ("24:00", 50)], False),
        ([("00:00", 50), ("12:00", 50), ("12:00", 0), ("12:00:01", 0), ("12:00:01", 50), ("24:00", 50)],
         True),
        ([("00:00:01", 50), ("24:00", 50)], True),
        ([("00:00", 50), ("23:59:59", 50)], True),
    ],
)  # fmt: skip
def test_one_dark_second_of_the_plan_is_enough(
    points: list[tuple[str, int]], is_found: bool
) -> None:
    shown = ", ".join(f'{{time: "{time}", light_percent: {light}}}' for time, light in points)
    text = bench(
        NEVER,
        NO_RELAY,
        (BENCH_DAY_OF_WEAK, f"points: [{shown}]"),
        (
            BENCH_DAY_OF_STRONG,
            "points: [{time: 00:00, light_percent: 60}, {time: 24:00, light_percent: 60}]",
        ),
    )
    lit = Day(levels={"weak": [("00:00", 50)], "strong": [("00:00", 60)]})
    found = findings(CODE, handmade(text, lit), text)
    assert [each.path for each in found] == [("channels", "weak", "ballast")] * is_found


BENCH_DAY_OF_WEAK = "points: [{time: 08:00, light_percent: 80}, {time: 18:00, light_percent: 80}]"
BENCH_DAY_OF_STRONG = "points: [{time: 08:00, light_percent: 60}, {time: 18:00, light_percent: 60}]"


def test_only_the_channel_with_such_a_ballast_is_found() -> None:
    found = finding(CODE, handmade(STRONG_NEVER), STRONG_NEVER)
    assert marked(found, STRONG_NEVER) == (40, 14, "other")
    assert found.message == (
        "'strong' is never dark: ballast 'other' holds 10 % light all night"
        " (photoperiod 24 h, longest dark 0 h)"
    )


def test_a_ballast_with_a_relay_is_dark() -> None:
    assert findings(CODE, handmade()) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    program = two_dates(STRONG_NEVER)
    able = handmade().channels["weak"].path
    assert_only_in_table(CODE, with_channel(program, "strong", 1 - table, path=able), table)


def test_a_hard_finding_accepted_by_name_no_longer_stands_in_the_way() -> None:
    accept = "accept:\n  - {finding: night-not-dark, because: a refugium of algae}\nchannels:\n"
    outcome = compiled(changed(NEVER, NO_RELAY, ("channels:\n", accept)), SPAN)
    diagnostic = found_in(outcome, CODE)
    assert diagnostic.severity is Severity.ACCEPTED
    assert diagnostic.accepted == "a refugium of algae"
    assert not outcome.report.has_errors
    assert "PHO415" not in {d.code for d in outcome.report}
