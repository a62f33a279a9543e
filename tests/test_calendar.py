"""Dates, tables, loads and the burn-in that is planned over them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.calendar import TubeState, compile_program
from photoperiod.pipeline import load
from photoperiod.program import DateSpan, Program, Table
from photoperiod.schedule import Schedule

STEP_S = 60

#: A 12 h day with 1 h linear ramps to 70 % holds 7.7 full-light hours.
TEXT = """\
schedule: 1
title: New tubes
{top}controller:
  clock: standard
  setpoints_per_channel: 12
  tables: {tables}
  time_step_minutes: 1
  between: {between}
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: 12, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: square-law}}
    floor: {{volts: 1.0, light_percent: 1}}
    full_volts: 10.0
    dark: {{kind: relay}}
    below_floor: nearest
tubes:
  a: {{watts: 54, fitted: {fitted}, burn_in_full_hours: {owed}{a}}}
  b: {{watts: 54, fitted: {fitted}, burn_in_full_hours: {owed}{b}}}
  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 500}}
zones:
  crest: {{dli: [2, 14]{zone}}}
channels:
  blue:
    ballast: pair
    tubes: [a, b]
    full_ppfd: {{{measured}zones: {{crest: 130}}}}
    day:
      kind: ramps
      dawn: {{start: "{start}", minutes: {ramp}}}
      peaks: [{{light_percent: {light}}}]
      dusk: {{end: "{end}", minutes: {ramp}}}
  white:
    ballast: pair
    tubes: [c]
    full_ppfd: {{zones: {{crest: 130}}}}
    day:
      kind: ramps
      dawn: {{start: 08:00, minutes: 60}}
      peaks: [{{light_percent: 70}}]
      dusk: {{end: 22:00, minutes: 60}}
"""
USUAL = {
    "top": "", "tables": 1, "between": "line", "fitted": "2027-03-02T08:00", "owed": 12, "a": "",
    "b": "", "zone": "", "measured": "", "start": "09:00", "end": "21:00", "ramp": 60, "light": 70,
}  # fmt: skip


def schedule(**changes: object) -> Schedule:
    outcome = load("test.yaml", TEXT.format(**(USUAL | changes)).encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule


def march(first: int, last: int) -> DateSpan:
    return DateSpan(dt.date(2027, 3, first), dt.date(2027, 3, last))


def program(span: DateSpan | None = None, **changes: object) -> Program:
    return compile_program(schedule(**changes), span or march(1, 10))


def spans(p: Program) -> list[tuple[int, int]]:
    return [(t.span.first.day, t.span.last.day) for t in p.tables if t.span]


def full_minutes(table: Table, id: str = "blue") -> tuple[str, str]:
    start, stop = (second // 60 for second in table.windows[id])
    return f"{start // 60:02}:{start % 60:02}", f"{stop // 60:02}:{stop % 60:02}"


def test_twelve_hours_are_paid_on_two_days_of_seven_point_seven() -> None:
    # By hand: 7.7 h at full on day one, 4.3 h of 7.7 h on day two, centred on 15:00, dimming from
    # day three.
    p = program()
    assert spans(p) == [(1, 1), (2, 3), (4, 10)]
    burning = p.tables[1]
    assert full_minutes(burning) == ("11:09", "18:51")
    assert burning.channels["blue"].full_light_hours.plan == pytest.approx(7.7)
    assert 0 <= 7.7 - burning.channels["blue"].full_light_hours.replay < STEP_S / 3600
    for id in ("a", "b"):
        ledger = p.tubes[id].ledger
        assert ledger.owed_hours == 0
        # 461 of the 462 minutes and one second are at full; the rest is the edge
        still_owed_s = 12 * 3600 - (461 * 60 + 1)
        assert ledger.paid_at == dt.datetime(2027, 3, 3, 11, 9) + dt.timedelta(seconds=still_owed_s)
        assert ledger.dimmed == []
        assert ledger.edge_seconds < 2 * STEP_S
    assert not p.tables[2].windows
    assert p.tables[2].day.channels["blue"].fit.rows == p.usual.channels["blue"].fit.rows


def test_each_table_is_a_load_unless_the_controller_holds_more() -> None:
    assert [len(load) for load in program().loads] == [1, 1, 1]
    assert [len(load) for load in program(tables=2).loads] == [2, 1]
    assert [len(load) for load in program(tables=9).loads] == [3]


def test_days_that_are_left_alone_stay_as_they_are() -> None:
    p = program(top="burn_in: leave\n")
    assert spans(p) == [(1, 10)]
    assert len(p.tubes["a"].ledger.dimmed) == 9
    assert p.tubes["a"].ledger.owed_hours == 12


def test_without_dates_nothing_is_planned() -> None:
    p = compile_program(schedule(), None)
    assert len(p.tables) == 1 and p.tables[0].span is None and not p.tables[0].windows


def test_a_span_cut_in_two_gives_the_same_ledger_with_or_without_a_book() -> None:
    whole = program()
    for cut in (1, 2, 3, 4, 7):
        first = program(march(1, cut))
        book = {
            id: TubeState(t.ledger.lit_hours, t.ledger.owed_hours)
            for id, t in first.tubes.items()
            if t.is_fitted
        }
        rest = march(cut + 1, 10)
        with_book = compile_program(schedule(), rest, book)
        without = compile_program(schedule(), rest)
        for id, t in whole.tubes.items():
            for second in (with_book, without):
                ledger = second.tubes[id].ledger
                assert ledger.lit_hours == pytest.approx(t.ledger.lit_hours, abs=1e-9)
                assert ledger.owed_hours == pytest.approx(t.ledger.owed_hours, abs=1e-9)
            if cut < 3:
                assert with_book.tubes[id].ledger.paid_at == t.ledger.paid_at
        assert [t.windows for t in with_book.tables] == [t.windows for t in without.tables]


def test_a_tube_is_followed_from_its_fitting_on() -> None:
    # 14 h a day from 2026-03-02, on 500 h
    days = (dt.date(2027, 3, 11) - dt.date(2026, 3, 2)).days
    assert program().tubes["c"].ledger.lit_hours == pytest.approx(500 + 14 * days)


def test_a_fitting_after_the_span_is_ignored_and_one_at_night_waits_for_the_morning() -> None:
    p = program(fitted="2027-04-02T08:00")
    assert spans(p) == [(1, 10)]
    assert not p.tubes["a"].is_fitted and p.tubes["a"].ledger.lit_hours == 0
    p = program(fitted="2027-03-02T23:00")
    assert spans(p) == [(1, 2), (3, 4), (5, 10)]


def test_hours_before_a_fitting_in_the_middle_of_a_day_do_not_count() -> None:
    p = program(fitted="2027-03-02T15:00")
    assert spans(p) == [(1, 1), (2, 4), (5, 10)]  # 3.8 h, 7.7 h and the rest
    assert p.tubes["a"].ledger.dimmed == []


LOSS = ", depreciation: {kind: points, points: [{lit_hours: 100, light_percent: 100}, {lit_hours: 1000, light_percent: 80}]}"  # noqa: E501


def test_a_half_new_pair_burns_for_as_long_as_both_together_give_the_dose() -> None:
    # By hand: PPFD was measured with both at 1,000 h: 80 %. One is new (100 %), one is at 80 %:
    # together 90 %, 1.125 of what was measured. 7.7 h ÷ 1.125 = 6.844 h, 410 steps.
    old = LOSS.replace(
        "light_percent: 80}", "light_percent: 80}, {lit_hours: 99999, light_percent: 80}"
    )
    p = program(
        a=LOSS, b=old + ", lit_hours: 1000", measured="measured_on: 2027-02-20, ",
        zone=", dark_hours_min: 8",
    )  # fmt: skip
    # Both are fitted in March here, so neither was there in February: then PPFD counts as declared.
    assert p.tables[1].channels["blue"].brightness == pytest.approx(0.9)
    text = TEXT.replace(
        "  b: {{watts: 54, fitted: {fitted}, burn_in_full_hours: {owed}{b}}}",
        "  b: {{watts: 54, fitted: 2027-01-01, lit_hours: 1000{b}}}",
    )
    changes = USUAL | {"a": LOSS, "b": old, "measured": "measured_on: 2027-02-20, "}
    outcome = load("test.yaml", text.format(**changes).encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    burning = p.tables[1]
    assert burning.channels["blue"].brightness == pytest.approx(0.9 / 0.8)
    start, stop = burning.windows["blue"]
    assert stop - start == pytest.approx(7.7 / 1.125 * 3600, abs=STEP_S)
    dli = burning.channels["blue"].dli["crest"]
    assert dli.plan == pytest.approx(7.7 * 130 * 0.0036)
    assert 0 <= dli.plan - dli.replay < STEP_S * 130 * 1.125 / 1e6
    assert p.tubes["b"].ledger.owed_hours == 0 and p.tubes["a"].ledger.owed_hours == 0


def test_dose_wins_where_it_conflicts_with_burn_in() -> None:
    p = program(zone=", ppfd_max: 195")  # 130 + 91 is too much; the plan peaks at 182
    table = p.tables[1]
    assert set(table.windows) == {"blue"}
    assert table.channels["white"].role == "gives-way"
    assert table.zones["crest"].peak_ppfd <= 195 + 1e-6
    p = program(zone=", ppfd_max: 129")
    assert all(not table.windows for table in p.tables)
    assert p.tables[1].dimmed == {"blue"}
    assert p.tubes["a"].ledger.owed_hours == 12


@settings(max_examples=12, deadline=None)
@given(
    begin=st.integers(6, 18),
    length=st.integers(4, 14),
    light=st.sampled_from([30, 55, 80, 100]),
    ramp=st.sampled_from([0, 10, 90]),
    owed=st.sampled_from([3, 12, 20]),
    between=st.sampled_from(["line", "hold"]),
)
def test_a_day_at_full_holds_the_dose_and_dims_nobody(
    begin: int, length: int, light: int, ramp: int, owed: int, between: str
) -> None:
    end = f"{(begin + length) % 24:02}:00"
    p = program(start=f"{begin:02}:00", end=end, light=light, ramp=ramp, owed=owed,
                between=between, zone="")  # fmt: skip
    burning = [t for t in p.tables if "blue" in t.windows]
    assert burning
    for table in burning:
        blue = table.channels["blue"]
        assert 0 <= blue.full_light_hours.plan - blue.full_light_hours.replay < STEP_S / 3600 + 1e-9
        replay = blue.replay
        dimmed = replay.lit & ~replay.full
        assert dimmed.sum() <= 2 * STEP_S  # edges alone
        assert np.abs(np.diff(replay.lit.astype(int), append=int(replay.lit[0]))).sum() <= 2
    assert p.tubes["a"].ledger.dimmed == []
    a = p.tubes["a"].ledger
    assert a.owed_hours == 0 or p.tables[-1].windows  # a short day pays for longer than the span
    assert a.owed_hours + a.full_seconds / 3600 >= owed - 1e-9
    assert a.lit_hours >= a.full_hours


def test_the_same_input_gives_the_same_tables() -> None:
    one, two = program(), program()
    assert [t.windows for t in one.tables] == [t.windows for t in two.tables]
    assert [t.channels["blue"].fit.rows for t in one.tables] == [
        t.channels["blue"].fit.rows for t in two.tables
    ]


def test_table_on_a_date() -> None:
    p = program()
    assert p.table_on(dt.date(2027, 3, 3)) is p.tables[1]
    with pytest.raises(ValueError, match="not within"):
        p.table_on(dt.date(2027, 4, 1))
