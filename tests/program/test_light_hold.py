"""Light that is held: when levels rise follows from the law of fading alone."""

from __future__ import annotations

import datetime as dt
import json
import math

import pytest

from photoperiod.formats.ledger_json import ledger_state_before, parse_ledger, render_ledger
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Table
from photoperiod.schedule.model import Schedule
from tests.program.bench import FADING, edited

#: Loss of 5 % in 1,000 h: e^(−αt), as in IES TM-21.
ALPHA_PER_H = -math.log(0.95) / 1000
#: Blue is lit for 12 h a day.
LIT_H = 12
FIRST = dt.date(2027, 3, 2)
#: What quantised tables may change a dose [share]: `dose_within_percent` of a controller is 1.
TABLE_DOSE = 0.011


def held(within: float = 3, light: int = 70, white: str = "", **more: object) -> Schedule:
    return edited(
        ("    tubes: [a, b]\n", f"    tubes: [a, b]\n    hold_light: {{dose_within_percent: {within}}}\n"),
        *([("    tubes: [c]\n", f"    tubes: [c]\n    hold_light: {{dose_within_percent: {white}}}\n"),
           ("lit_hours: 500}", f"lit_hours: 500{FADING}}}")] if white else []),
        light=light, owed=0, a=FADING, b=FADING, fitted="2027-03-02", measured="measured_on: 2027-03-02, ",
        **more,
    )  # fmt: skip


def compiled(schedule: Schedule, days: int = 200, first: dt.date = FIRST) -> Program:
    return compile_program(schedule, DateSpan(first, first + dt.timedelta(days=days - 1)))


def lengths(p: Program) -> list[int]:
    return [table.span.days for table in p.tables if table.span]


def dose(table: Table) -> tuple[float, float]:
    """The dose of blue as a table begins and ends, beside the plan's."""
    c = table.channels["blue"]
    plan = c.dli["crest"].plan
    first = c.dli["crest"].replay / plan
    return first, first * c.brightness_at_end / c.brightness


def test_levels_rise_when_the_law_of_fading_says_so() -> None:
    # Light falls to 97 % in ln(1/0.97)/α = 593.8 h: 49 days of 12 h, then the 50th needs another table.
    days = math.floor(math.log(1 / 0.97) / ALPHA_PER_H / LIT_H)
    assert days == 49
    p = compiled(held())
    assert lengths(p)[:3] == [days] * 3
    factors = [table.channels["blue"].held for table in p.tables]
    raised = math.exp(ALPHA_PER_H * days * LIT_H)
    assert factors[:3] == pytest.approx([1.0, raised, raised**2], rel=1e-9)
    for table in p.tables:
        first, last = dose(table)
        assert 0.97 - TABLE_DOSE <= last < first <= 1 + TABLE_DOSE


def test_a_wider_tolerance_needs_fewer_loads() -> None:
    assert [len(compiled(held(within), 600).loads) for within in (3, 6, 12)] == [13, 6, 3]


def test_without_it_the_light_fades() -> None:
    schedule = edited(light=70, owed=0, a=FADING, b=FADING)
    p = compiled(schedule, 100)
    assert len(p.tables) == 1
    assert p.tables[0].channels["blue"].held == 1.0
    assert p.tables[0].zones["crest"].dli_at_end < p.tables[0].zones["crest"].dli.replay


def test_the_levels_rise_until_they_can_not() -> None:
    # A peak of 95 % can rise by the factor 1/0.95 (× the top code: 4095/4096 V, squared). The dose leaves
    # its tolerance of 3 % when the light is below 0.97 × 0.95: after ln(1/(0.97 × 0.95))/α hours.
    top = (4095 / 4096) ** 2
    p = compiled(held(light=95), 300)
    most = max(table.channels["blue"].held for table in p.tables)
    assert most == pytest.approx(top / 0.95, rel=1e-6)
    days = math.floor(math.log(most / 0.97) / ALPHA_PER_H / LIT_H)
    short = [table for table in p.tables if "blue" in table.short]
    assert short[0].span is not None
    assert short[0].span.first == FIRST + dt.timedelta(days=days)
    assert short[-1].span is not None and short[-1].span.last == p.tables[-1].span.last  # type: ignore[union-attr]
    assert all(table.channels["blue"].held == most for table in short)


def test_a_new_tube_lowers_the_levels() -> None:
    # Tube a is replaced after 40 days, when each has lost 1 − e^(−480α) = 2.4 %
    new = f"  a-2: {{watts: 54, place: a, fitted: 2027-04-11{FADING}}}\n"
    text = ("  b: {watts: 54,", f"{new}  b: {{watts: 54,")
    schedule = edited(
        ("    tubes: [a, b]\n", "    tubes: [a, a-2, b]\n    hold_light: {dose_within_percent: 2}\n"),
        text, owed=0, a=FADING, b=FADING, fitted="2027-03-02", measured="measured_on: 2027-03-02, ",
    )  # fmt: skip
    p = compiled(schedule, 60)
    on = p.table_on(dt.date(2027, 4, 11)).channels["blue"]
    both = (
        1.0 + math.exp(-ALPHA_PER_H * 480)
    ) / 2  # new: as declared at 100 h when e^(100α) counts for both
    assert on.held == pytest.approx(1 / both, rel=1e-6)
    assert dose(p.table_on(dt.date(2027, 4, 11)))[0] == pytest.approx(1, abs=TABLE_DOSE)


def test_channels_that_are_nearly_due_share_a_load() -> None:
    # White is older, and its levels have risen before. After its first load within the dates it is due
    # first, because it is lit for 14 h a day; blue has used more than half of its 3 % by then.
    p = compiled(held(white="3"), 120)
    assert len(p.tables) == 4
    for before, after in zip(p.tables[1:], p.tables[2:], strict=False):
        for id in ("blue", "white"):
            assert after.channels[id].held > before.channels[id].held


def test_a_span_cut_in_two_gives_the_same_tables() -> None:
    schedule = held()
    whole = compiled(schedule, 120)
    half = compiled(schedule, 70)
    book = parse_ledger("book", render_ledger(half, None))
    assert book["entries"][0]["held"]["blue"] > 1
    later = DateSpan(FIRST + dt.timedelta(days=70), FIRST + dt.timedelta(days=119))
    rest = compile_program(schedule, later, ledger_state_before("book", book, schedule, later))
    for date in later:
        one, other = (p.table_on(date).channels["blue"] for p in (whole, rest))
        assert (one.held, one.fit.rows) == (other.held, other.fit.rows)
    json.dumps(book)


def test_dark_days_and_a_tube_that_is_out_do_not_change_what_is_held() -> None:
    top = (
        "changes:\n  - {kind: dark-days, from_date: 2027-05-10, days: 3, channels: [blue]}\n"
        "  - {kind: part-out, tube: b, from_date: 2027-05-20, days: 5, ballast: goes-on}\n"
    )
    plain, changed = compiled(held(), 100), compiled(held(top=top), 100)
    for date in DateSpan(FIRST, FIRST + dt.timedelta(days=69)):
        one, other = (p.table_on(date).channels["blue"].held for p in (plain, changed))
        assert one == other
    assert not any(table.short for table in changed.tables)
    assert changed.table_on(dt.date(2027, 5, 11)).channels["blue"].lit_seconds == 0


def test_a_zone_keeps_its_limit_with_its_levels_raised() -> None:
    # 130 × 0.7 + 130 × 0.7 = 182 at most by the plan: the limit is that, and tables are trimmed to it
    schedule = held(zone=", ppfd_max: 182")
    p = compiled(schedule, 200)
    assert max(table.zones["crest"].peak_ppfd for table in p.tables) <= 182 + 1e-6
