"""The dose of a zone rises too far."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from photoperiod.checks.dose_jumps import dose_jumps
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program
from photoperiod.tubes.hours import LastLight
from tests.changes.bench import CALM, TEXT, scheduled, span

CODE = "PHO440"

#: Days of the same peak: the second is twice as long. By hand (3 − 1) and (6 − 1) × 0.5 h at full.
LONGER = CALM.replace("start: 10:00", "start: 12:00").replace("18:00", "21:00").replace("40", "80")
SHORT = TEXT.replace("start: 09:00", "start: 15:00")


def program(*replaced: tuple[str, str]) -> Program:
    text = SHORT
    for old, new in replaced:
        assert old in text
        text = text.replace(old, new)
    change = "{kind: other-day, from_date: 2027-05-03, day_plan: calm}"
    return compile_program(
        scheduled(change, plans=LONGER, text=text), span("2027-05-01", "2027-05-09")
    )


def test_a_longer_day_of_the_same_peak_is_told() -> None:
    # blue from 15 to 21: 5 h × 0.8 + 4 h × 0.02 = 4.08; from 12 to 21: 8 × 0.8 = 6.4 (no moonlight)
    # sand has 60 at full: 4.08 × 60 × 0.0036 = 0.88, and 6.4 × 60 × 0.0036 = 1.38
    found = list(dose_jumps(program()))
    assert [each.path for each in found] == [("zones", "crest"), ("zones", "sand")]
    assert all(each.code == CODE and each.on_key for each in found)
    message = found[1].message
    told = re.search(
        r"zone 'sand' rises on 2027-05-03 from ([\d.]+) to ([\d.]+) mol m⁻² d⁻¹", message
    )
    assert told is not None
    assert [float(each) for each in told.groups()] == pytest.approx(
        [0.881, 1.382], abs=0.02
    )  # tables
    assert "by more than 25 %" in message


def test_the_limit_of_the_zone_decides() -> None:
    wide = ("sand: {ppfd_max: 300,", "sand: {dose_rise_percent_max: 60, ppfd_max: 300,")
    assert [each.path[1] for each in dose_jumps(program(wide))] == ["crest"]
    narrow = ("sand: {ppfd_max: 300,", "sand: {dose_rise_percent_max: 55, ppfd_max: 300,")
    assert len(list(dose_jumps(program(narrow)))) == 2


def test_the_first_date_is_held_against_the_ledger_only() -> None:
    plain = compile_program(scheduled(), span("2027-05-01", "2027-05-02"))
    assert list(dose_jumps(plain)) == []
    sand = plain.zones["sand"]
    before = LastLight(peak_ppfd=sand.peak_ppfd, dli=sand.dli.replay / 1.3)
    (found,) = dose_jumps(replace(plain, before={"sand": before}))
    assert "rises on 2027-05-01" in found.message
    near = replace(before, dli=sand.dli.replay / 1.2)
    assert list(dose_jumps(replace(plain, before={"sand": near}))) == []
    unknown = replace(before, dli=None)  # a ledger of an older version
    assert list(dose_jumps(replace(plain, before={"sand": unknown}))) == []


def test_a_peak_that_jumps_is_told_once() -> None:
    plain = compile_program(scheduled(), span("2027-05-01", "2027-05-02"))
    sand = plain.zones["sand"]
    before = LastLight(peak_ppfd=sand.peak_ppfd / 2, dli=sand.dli.replay / 2)
    assert list(dose_jumps(replace(plain, before={"sand": before}))) == []


def test_a_rise_near_nothing_is_not_told() -> None:
    plain = compile_program(scheduled(), span("2027-05-01", "2027-05-02"))
    sand = plain.zones["sand"]
    dim = replace(sand, dli=replace(sand.dli, replay=0.15))
    table = replace(
        plain.tables[0], day=replace(plain.tables[0].day, zones={**plain.zones, "sand": dim})
    )
    before = LastLight(peak_ppfd=sand.peak_ppfd, dli=0.06)
    assert list(dose_jumps(replace(plain, tables=(table,), before={"sand": before}))) == []
