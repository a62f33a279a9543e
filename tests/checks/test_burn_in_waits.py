from __future__ import annotations

from typing import Any

import pytest

from photoperiod.program.model import Program
from tests.checks.bench import (
    BENCH,
    SPAN,
    Day,
    assert_found,
    bench,
    finding,
    findings,
    found_in,
    handmade,
    marked,
    on,
)
from tests.conftest import changed, compiled

CODE = "PHO419"
NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")


def waiting(*plans: dict[str, Any]) -> Program:
    """Return a program of tables of one date each, from 1 March on."""
    return handmade(bench(), *(Day(first=on(n + 1), plan=plan) for n, plan in enumerate(plans)))


def dimmed(*ids: str, why: str = "too bright") -> dict[str, Any]:
    return {"dimmed": frozenset(ids), "reasons": dict.fromkeys(ids, why)}


def dark(*ids: str, why: str = "too bright") -> dict[str, Any]:
    return {"dark": frozenset(ids), "reasons": dict.fromkeys(ids, why)}


def test_a_limit_that_full_light_would_break() -> None:
    assert_found(
        CODE,
        [NEW, ("ppfd_max: 200", "ppfd_max: 120")],
        (26, 3, "blue"),
        "'blue' owes burn-in and is dimmed by the plan from 2027-03-02 to 2027-03-05: zone 'crest'"
        " would get 129.9 µmol m⁻² s⁻¹ from it alone, over its ppfd_max of 120",
    )


def test_a_burn_in_that_waits_is_told_once() -> None:
    """What the plan itself dims is no second finding, and what a keeper's own day dims still is one."""
    waits = [NEW, ("ppfd_max: 200", "ppfd_max: 120")]
    codes = [d.code for d in compiled(changed(*waits), SPAN).report]
    assert codes.count(CODE) == 1
    assert "PHO406" not in codes
    leave = ("title: Test bench\n", "title: Test bench\nburn_in: leave\n")
    codes = [d.code for d in compiled(changed(*waits, leave), SPAN).report]
    assert "PHO406" in codes


# At full strong gives crest 100 µmol m⁻² s⁻¹; its plan of 60 % from 08:00 to 18:00 gives as much in
# 6 h at full as in its 10 h, so that its dose is no hindrance.
@pytest.mark.parametrize(("ppfd_max", "is_found"), [(110, False), (102, False), (99.9, True)])
def test_a_limit_that_full_light_just_keeps(ppfd_max: float, is_found: bool) -> None:
    weak = BENCH[BENCH.index("  weak:\n") : BENCH.index("  strong:\n")]
    text = bench(
        (weak, ""),
        ("  tube-a: {watts: 54}\n", ""),
        ("  sand: {dark_hours_min: 0}\n", ""),
        (
            "tube-b: {watts: 54}",
            "tube-b: {watts: 54, fitted: 2027-03-02T00:00, burn_in_full_hours: 12}",
        ),
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, ppfd_max: {ppfd_max}}}"),
    )
    outcome = compiled(text, SPAN)
    if is_found:
        assert "would get 100 µmol m⁻² s⁻¹ from it alone" in found_in(outcome, CODE).message
    else:
        assert CODE not in {d.code for d in outcome.report}


def test_nothing_waits() -> None:
    assert findings(CODE, waiting({}, {})) == []


@pytest.mark.parametrize(
    ("state", "words"),
    [(dimmed("strong"), "is dimmed by the plan"), (dark("strong"), "stays dark")],
)
def test_a_channel_waits_dark_or_by_the_plan(state: dict[str, Any], words: str) -> None:
    found = finding(CODE, waiting({}, state, {}))
    assert marked(found) == (33, 3, "strong")
    assert found.message == (
        f"'strong' owes burn-in and {words} from 2027-03-02 to 2027-03-02: too bright"
    )


def test_every_stretch_of_dates_is_told_with_the_first_reason() -> None:
    program = waiting(
        dimmed("weak", why="first"), {}, dark("weak", why="second"), dark("weak", why="third")
    )
    assert finding(CODE, program).message == (
        "'weak' owes burn-in and is dimmed by the plan from 2027-03-01 to 2027-03-01, and again"
        " from 2027-03-03 to 2027-03-04: first"
    )
    program = waiting({}, dark("weak", why="first"), dimmed("weak", why="second"))
    assert finding(CODE, program).message == (
        "'weak' owes burn-in and stays dark from 2027-03-02 to 2027-03-03: first"
    )


def test_the_dates_are_those_of_the_tables() -> None:
    days = [Day(first=on(1), last=on(3), plan=dimmed("weak")),
            Day(first=on(4), last=on(9), plan=dimmed("weak"))]  # fmt: skip
    message = finding(CODE, handmade(bench(), *days)).message
    assert "from 2027-03-01 to 2027-03-09" in message


def test_many_channels_come_by_name() -> None:
    names = ["echo", "alpha", "delta", "foxtrot", "bravo", "charlie"]
    text = BENCH + "".join(
        f"  {name}:\n    ballast: pair\n    full_ppfd: {{zones: {{crest: 1}}}}\n"
        "    day: {kind: points, points: [{time: 08:00, light_percent: 0},"
        " {time: 18:00, light_percent: 0}]}\n"
        for name in names
    )
    dark_rows = {name: [("08:00", 0)] for name in names}
    program = handmade(text, Day(first=on(1), levels=dark_rows, plan=dark(*names)))
    assert [each.path[1] for each in findings(CODE, program, text)] == sorted(names)


def test_each_channel_is_found_once_by_name() -> None:
    found = findings(CODE, waiting(dimmed("weak", "strong"), dark("weak")))
    assert [marked(each) for each in found] == [(33, 3, "strong"), (28, 3, "weak")]
    assert ["from 2027-03-01 to 2027-03-01" in each.message for each in found] == [True, False]
