from __future__ import annotations

import pytest

from photoperiod.checks.run import run_checks
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from tests.checks.bench import SPAN, bench, finding, findings, handmade, marked, on, schedule_of

CODE = "PHO430"
MEASURED = ("full_ppfd: {zones: {crest: 50, sand: 10}}",
            "full_ppfd: {measured_on: 2027-02-20, zones: {crest: 50, sand: 10}}")  # fmt: skip
LIMIT = ("sand: {dark_hours_min: 0}", "sand: {dark_hours_min: 0, ppfd_max: 10}")
FADING = "depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"


def with_tube(keys: str, *more: tuple[str, str]) -> str:
    return bench(("tube-a: {watts: 54}", f"tube-a: {{watts: 54{keys}}}"), LIMIT, *more)


@pytest.mark.parametrize(
    ("keys", "is_measured", "is_found"),
    [
        ("", True, False),  # a tube that is not said to be fitted was there
        (", fitted: 2027-02-20", True, False),
        (", fitted: 2027-03-01", True, True),
        (f", fitted: 2027-03-01, {FADING}", True, True),
        (", fitted: 2027-03-01, replace_after_hours: 8000", True, True),
        (f", fitted: 2027-03-01, replace_after_hours: 8000, {FADING}", True, False),
        (", fitted: 2027-03-05", True, True),
        (", fitted: 2027-03-06", True, False),  # after the last date
        (", fitted: 2027-03-01", False, False),  # nothing is said of any loss
        (f", {FADING}", False, True),
        (f", replace_after_hours: 8000, {FADING}", False, False),
    ],
)
def test_when_the_old_tube_is_not_known(keys: str, is_measured: bool, is_found: bool) -> None:
    text = with_tube(keys, *[MEASURED] * is_measured)
    program = compile_program(schedule_of(text), SPAN)
    found = findings(CODE, program, text)
    assert len(found) == is_found
    if found:
        assert marked(found[0], text)[2] == "10"
        assert found[0].message == (
            "'ppfd_max' of zone 'sand' is not shown to be kept: it is not declared what the tubes of 'weak'"
            " had lost when PPFD was measured"
        )


def test_only_zones_that_the_channel_lights_are_in_doubt() -> None:
    text = with_tube(", fitted: 2027-03-01", MEASURED, ("sand: 10}", "sand: 0}"),
                     ("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 5}}"))  # fmt: skip
    assert findings(CODE, handmade(text), text) == []


def test_it_is_hard_and_can_be_accepted_by_its_name() -> None:
    text = with_tube(", fitted: 2027-03-01", MEASURED)
    (hard,) = [each for each in run_checks(handmade(text))[0] if each.code == CODE]
    assert hard.severity == "error"
    text += "accept: [{finding: limit-not-shown, zones: [sand], because: a meter shows 8}]\n"
    (accepted,) = [each for each in run_checks(handmade(text))[0] if each.code == CODE]
    assert accepted.accepted == "a meter shows 8"


def test_a_line_of_tubes_that_are_declared_is_shown() -> None:
    """Which tube was measured is told by the line, not by the newest tube alone."""
    old = f"old: {{watts: 54, fitted: 2026-03-01, place: left, {FADING}}}\n"
    new = "  tube-a: {watts: 54, fitted: 2027-03-01T10:00, place: left}\n"
    text = bench(("tube-a: {watts: 54}\n", old + new), LIMIT, MEASURED,
                 ("tubes: [tube-a]", "tubes: [old, tube-a]"))  # fmt: skip
    program = compile_program(schedule_of(text), DateSpan(on(1), on(5)))
    assert findings(CODE, program, text) == []
    silent = text.replace(f", {FADING}", "")
    found = finding(CODE, compile_program(schedule_of(silent), SPAN), silent)
    assert "of 'weak' had lost" in found.message


def test_lamps_that_were_measured_cold_show_no_limit() -> None:
    cold = (
        "full_ppfd: {zones: {crest: 50, sand: 10}}",
        "full_ppfd: {measured_cold: true, zones: {crest: 50, sand: 10}}",
    )
    text = bench(LIMIT, cold)
    (found,) = findings(CODE, handmade(text), text)
    assert marked(found, text)[2] == "10"
    assert "'weak' was measured cold" in found.message
    assert findings(CODE, handmade(bench(LIMIT)), bench(LIMIT)) == []
    assert (
        findings(CODE, handmade(bench(cold)), bench(cold)) == []
    )  # without a limit none is in doubt
