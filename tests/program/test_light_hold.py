"""Light that is held: when levels rise follows from the law of fading alone."""

from __future__ import annotations

import datetime as dt
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.formats.ledger_json import ledger_state_before, parse_ledger, render_ledger
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Table
from photoperiod.schedule.model import Schedule
from photoperiod.upkeep.power_use import power_use
from photoperiod.upkeep.tube_costs import tube_costs
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
    # 300 days: one table for 49 days at 3 %, for ln(1/0.94)/α = 1,206 h, 100 days, at 6 %
    assert [len(compiled(held(within), 300).loads) for within in (3, 6)] == [7, 3]


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


@given(
    cut=st.integers(1, 149), within=st.sampled_from([1.5, 4.0]), owed=st.sampled_from([0, 12]),
    later=st.booleans(),
)  # fmt: skip
@settings(max_examples=3)
def test_wherever_a_span_is_cut_tables_loads_and_cost_are_the_same(
    cut: int, within: float, owed: int, later: bool
) -> None:
    costs = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.2}}\n"
    new = f"  a-2: {{watts: 54, place: a, price: 9, fitted: 2027-05-11, burn_in_full_hours: 12{FADING}}}\n"
    schedule = edited(
        ("    tubes: [a, b]\n", f"    tubes: [a, {'a-2, ' if later else ''}b]\n"
         f"    hold_light: {{dose_within_percent: {within}}}\n"),
        ("    below_floor: nearest\n", "    below_floor: nearest\n    watts: {full: 118, floor: 25}\n"),
        *([("  b: {watts: 54,", f"{new}  b: {{watts: 54,")] if later else []),
        owed=owed, a=FADING, b=FADING, fitted="2027-03-02", measured="measured_on: 2027-03-02, ", top=costs,
    )  # fmt: skip
    spans = [
        DateSpan(FIRST + dt.timedelta(days=begin), FIRST + dt.timedelta(days=end - 1))
        for begin, end in ((0, 150), (0, cut), (cut, 150))
    ]
    whole, one = (compile_program(schedule, span) for span in spans[:2])
    book = parse_ledger("book", render_ledger(one, None))
    two = compile_program(schedule, spans[2], ledger_state_before("book", book, schedule, spans[2]))
    halves = {date: one for date in spans[1]} | {date: two for date in spans[2]}
    rows = {date: [p.table_on(date).rows for p in (whole, halves[date])] for date in spans[0]}
    assert all(a == b for a, b in rows.values())
    at_cut = rows[spans[1].last][0] == rows[spans[2].first][0]
    assert len(whole.loads) == len(one.loads) + len(two.loads) - at_cut
    uses = [power_use(p).total for p in (whole, one, two)]
    assert uses[0].kwh == pytest.approx(uses[1].kwh + uses[2].kwh)
    assert uses[0].cost == pytest.approx((uses[1].cost or 0) + (uses[2].cost or 0))
    fitted = [len(tube_costs(p).fitted) for p in (whole, one, two)]
    assert fitted[0] == fitted[1] + fitted[2]


@given(
    light=st.integers(40, 100), new_after=st.integers(10, 60), within=st.sampled_from([2.0, 6.0])
)
@settings(max_examples=2)
def test_hours_never_fall_and_light_rises_only_at_a_fitting(
    light: int, new_after: int, within: float
) -> None:
    fitting = FIRST + dt.timedelta(days=new_after)
    new = f"  a-2: {{watts: 54, place: a, fitted: {fitting}{FADING}}}\n"
    schedule = edited(
        ("    tubes: [a, b]\n", "    tubes: [a, a-2, b]\n"),
        ("  b: {watts: 54,", f"{new}  b: {{watts: 54,"),
        owed=0, a=FADING, b=FADING, fitted="2027-03-02", light=light, measured="measured_on: 2027-03-02, ",
    )  # fmt: skip
    hours, brightness = {"a": 0.0, "b": 0.0, "c": 0.0}, math.inf
    for days in range(1, 70, 14):
        p = compiled(schedule, days)
        now = {id: t.hours.lit_hours for id, t in p.tubes.items()}
        assert all(now[id] >= known for id, known in hours.items())
        hours |= now
        for table in p.tables:
            c = table.channels["blue"]
            assert c.brightness >= c.brightness_at_end
        last = p.tables[-1].channels["blue"].brightness_at_end
        is_new = (
            FIRST + dt.timedelta(days=days - 1) >= fitting > FIRST + dt.timedelta(days=days - 15)
        )
        assert last < brightness or is_new
        brightness = last


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


def test_a_raised_table_is_kept_below_its_plan_only_if_it_says_for_which_zone() -> None:
    # The limit is the peak by the plan: tables that may exceed it lift the zone, whatever the factor.
    p = compiled(held(zone=", ppfd_max: 182"), 200)
    assert len({table.channels["blue"].held for table in p.tables}) > 2
    for table in p.tables:
        for c in table.channels.values():
            may_exceed = c.curve_and_target()[1].may_exceed
            assert may_exceed is (c.fit.kept_for == ())
    assert any(table.channels["blue"].fit.kept_for == ("crest",) for table in p.tables[1:])
