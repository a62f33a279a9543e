"""Dates, tables, loads and the burn-in that is planned over them."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.checks.run import run_checks
from photoperiod.dates import DateSpan
from photoperiod.diagnostics.codes import CODES
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program, Table
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.hours import LedgerState, TubeState
from tests.conftest import load

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


def ledger_state_of(p: Program) -> LedgerState:
    """What is known as the date after a program begins."""
    tubes = {
        id: TubeState(t.hours.lit_hours, t.hours.owed_hours)
        for id, t in p.tubes.items()
        if t.is_fitted
    }
    return LedgerState(tubes=tubes, windows=p.tables[-1].plan.windows)


def full_minutes(table: Table, id: str = "blue") -> tuple[str, str]:
    start, stop = (second // 60 for second in table.plan.windows[id])
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
        ledger = p.tubes[id].hours
        assert ledger.owed_hours == 0
        # 461 of the 462 minutes and one second are at full; the rest is the edge
        still_owed_s = 12 * 3600 - (461 * 60 + 1)
        assert ledger.paid_at == dt.datetime(2027, 3, 3, 11, 9) + dt.timedelta(seconds=still_owed_s)
        assert ledger.dimmed == []
        assert ledger.edge_seconds < 2 * STEP_S
    assert not p.tables[2].plan.windows
    assert (
        p.tables[2].day.channels["blue"].fit.rows == p.first_day_by_plan.channels["blue"].fit.rows
    )


def test_each_table_is_a_load_unless_the_controller_holds_more() -> None:
    assert [len(load) for load in program().loads] == [1, 1, 1]
    assert [len(load) for load in program(tables=2).loads] == [2, 1]
    assert [len(load) for load in program(tables=9).loads] == [3]


def test_days_that_are_left_alone_stay_as_they_are() -> None:
    p = program(top="burn_in: leave\n")
    assert spans(p) == [(1, 10)]
    assert len(p.tubes["a"].hours.dimmed) == 9
    assert p.tubes["a"].hours.owed_hours == 12


def test_without_dates_nothing_is_planned() -> None:
    p = compile_program(schedule(), None)
    assert len(p.tables) == 1 and p.tables[0].span is None and not p.tables[0].plan.windows


def test_a_span_cut_in_two_gives_the_same_ledger_with_or_without_a_book() -> None:
    whole = program()
    for cut in (1, 2, 3, 4, 7):
        first = program(march(1, cut))
        book = ledger_state_of(first)
        rest = march(cut + 1, 10)
        with_book = compile_program(schedule(), rest, book)
        without = compile_program(schedule(), rest)
        for id, t in whole.tubes.items():
            for second in (with_book, without):
                ledger = second.tubes[id].hours
                assert ledger.lit_hours == pytest.approx(t.hours.lit_hours, abs=1e-9)
                assert ledger.owed_hours == pytest.approx(t.hours.owed_hours, abs=1e-9)
            if cut < 3:
                assert with_book.tubes[id].hours.paid_at == t.hours.paid_at
        assert [t.plan.windows for t in with_book.tables] == [
            t.plan.windows for t in without.tables
        ]


def test_a_tube_is_followed_from_its_fitting_on() -> None:
    # 14 h a day from 2026-03-02, on 500 h
    days = (dt.date(2027, 3, 11) - dt.date(2026, 3, 2)).days
    assert program().tubes["c"].hours.lit_hours == pytest.approx(500 + 14 * days)


def test_a_fitting_after_the_span_is_ignored_and_one_at_night_waits_for_the_morning() -> None:
    p = program(fitted="2027-04-02T08:00")
    assert spans(p) == [(1, 10)]
    assert not p.tubes["a"].is_fitted and p.tubes["a"].hours.lit_hours == 0
    p = program(fitted="2027-03-02T23:00")
    assert spans(p) == [(1, 2), (3, 4), (5, 10)]


def test_hours_before_a_fitting_in_the_middle_of_a_day_do_not_count() -> None:
    p = program(fitted="2027-03-02T15:00")
    assert spans(p) == [(1, 1), (2, 4), (5, 10)]  # 3.8 h, 7.7 h and the rest
    assert p.tubes["a"].hours.dimmed == []


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
    start, stop = burning.plan.windows["blue"]
    assert stop - start == pytest.approx(7.7 / 1.125 * 3600, abs=STEP_S)
    dli = burning.channels["blue"].dli["crest"]
    assert dli.plan == pytest.approx(7.7 * 130 * 0.0036)
    assert 0 <= dli.plan - dli.replay < STEP_S * 130 * 1.125 / 1e6
    assert p.tubes["b"].hours.owed_hours == 0 and p.tubes["a"].hours.owed_hours == 0


def test_dose_wins_where_it_conflicts_with_burn_in() -> None:
    p = program(zone=", ppfd_max: 195")  # 130 + 91 is too much; the plan peaks at 182
    table = p.tables[1]
    assert set(table.plan.windows) == {"blue"}
    assert table.channels["white"].role == "gives-way"
    assert table.zones["crest"].peak_ppfd <= 195 + 1e-6
    p = program(zone=", ppfd_max: 129")
    assert all(not table.plan.windows for table in p.tables)
    assert p.tables[1].plan.dimmed == {"blue"}
    assert p.tubes["a"].hours.owed_hours == 12


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
    burning = [t for t in p.tables if "blue" in t.plan.windows]
    if light == 100 and ramp == 0:  # dark or full as it is
        assert not burning and p.tubes["a"].hours.dimmed == []
        return
    assert burning
    for table in burning:
        blue = table.channels["blue"]
        assert 0 <= blue.full_light_hours.plan - blue.full_light_hours.replay < STEP_S / 3600 + 1e-9
        replay = blue.replay
        dimmed = replay.lit & ~replay.full
        assert dimmed.sum() <= 2 * STEP_S  # edges alone
        assert np.abs(np.diff(replay.lit.astype(int), append=int(replay.lit[0]))).sum() <= 2
    assert p.tubes["a"].hours.dimmed == []
    a = p.tubes["a"].hours
    assert (
        a.owed_hours == 0 or p.tables[-1].plan.windows
    )  # a short day pays for longer than the span
    assert a.owed_hours + a.full_seconds / 3600 >= owed - 1e-9
    assert a.lit_hours >= a.full_hours


def test_the_same_input_gives_the_same_tables() -> None:
    one, two = program(), program()
    assert [t.plan.windows for t in one.tables] == [t.plan.windows for t in two.tables]
    assert [t.channels["blue"].fit.rows for t in one.tables] == [
        t.channels["blue"].fit.rows for t in two.tables
    ]


def test_table_on_a_date() -> None:
    p = program()
    assert p.table_on(dt.date(2027, 3, 3)) is p.tables[1]
    with pytest.raises(ValueError, match="not within"):
        p.table_on(dt.date(2027, 4, 1))


# Found by trying to break it -----------------------------------------------------------------------


def edited(*changes: tuple[str, str], **more: object) -> Schedule:
    text = TEXT.format(**(USUAL | more))
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule


FADING = ", depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"

#: The white tube is old, and a second one without debt comes on 2027-03-05.
REPLACED = (
    ("  c: {watts: 54, fitted: 2026-03-02, lit_hours: 500}",
     f"  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 500{FADING}}}\n"
     f"  d: {{watts: 54, fitted: 2027-03-05T08:00{FADING}}}"),
    ("tubes: [c]\n    full_ppfd: {", "tubes: [c, d]\n    full_ppfd: {measured_on: 2027-02-20, "),
)  # fmt: skip


@pytest.mark.parametrize("policy", ["plan", "leave"])
def test_light_that_a_fitting_brings_in_mid_span_is_judged(policy: str) -> None:
    # The old tube has burned 500 + 14 h a day from 2026-03-02: 355 days up to 2027-02-20, 368 up to
    # 2027-03-05. By e^(-αt) at 5 %/1000 h, beside its light when PPFD was measured, the two give
    # ½ (e^(-α 14·13) + e^(α (500 + 14·355))) = 1.156 of 130; the white peak is 70 % of that.
    found = edited(*REPLACED, top=f"burn_in: {policy}\n", fitted="2027-04-02",
                   zone=", ppfd_max: 190")  # fmt: skip
    p = compile_program(found, march(1, 10))
    assert spans(p) == [(1, 4), (5, 10)]
    assert len(p.controller_tables) == 1 and len(p.loads) == 1  # the rows are the same
    alpha = -math.log(0.95) / 1000
    new = (math.exp(-alpha * 14 * 13) + math.exp(alpha * (500 + 14 * 355))) / 2
    assert p.tables[1].channels["white"].brightness == pytest.approx(new, rel=1e-6)
    assert p.tables[1].zones["crest"].peak_ppfd > 190 > p.tables[0].zones["crest"].peak_ppfd
    over = [d for d in run_checks(p)[0] if d.code == "PHO402"]
    assert len(over) == 1 and "(table from 2027-03-05)" in over[0].message


#: White gives way under blue: 130 + 91 is over 160.
BOTH_NEW = ("  c: {watts: 54, fitted: 2026-03-02, lit_hours: 500}",
            "  c: {watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")  # fmt: skip


@pytest.mark.parametrize(
    "changes",
    [
        (),
        (("setpoints_per_channel: 12", "setpoints_per_channel: 4"),),
        (("time_step_minutes: 1", "time_step_minutes: 0.25"),),
        (("time_step_minutes: 1", "time_step_minutes: 15"),),
        (("percent, step: 1", "percent, step: 5"),),
    ],
)
@pytest.mark.parametrize("between", ["line", "hold"])
def test_a_day_at_full_never_breaks_what_a_day_by_the_plan_keeps(
    changes: tuple[tuple[str, str], ...], between: str
) -> None:
    found = edited(BOTH_NEW, *changes, between=between, zone=", ppfd_max: 195")
    usual, _ = run_checks(compile_program(found, None))
    p = compile_program(found, march(1, 10))
    hard = {d.code for d in run_checks(p)[0] if CODES[d.code].is_hard}
    assert hard <= {d.code for d in usual if CODES[d.code].is_hard}
    for table in p.tables:
        if table.plan.windows:
            assert table.zones["crest"].peak_ppfd <= 195 + 1e-6


def test_a_lamp_that_cannot_be_dark_gives_way_no_further_than_its_floor() -> None:
    never = ("channels:\n", "  never: {response: {kind: linear}, floor: {volts: 3, light_percent: 50},"
             " full_volts: 10.0, dark: never}\nchannels:\n")  # fmt: skip
    text = TEXT.format(**(USUAL | {"zone": ", ppfd_max: 190"}))
    text = text.replace("tubes:\n  a", never[1].split("channels")[0] + "tubes:\n  a", 1)
    text = text.replace("    ballast: pair\n    tubes: [c]", "    ballast: never\n    tubes: [c]")
    outcome = load("test.yaml", text.replace("dark: never", "dark: {kind: never}").encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    assert not any(table.plan.windows for table in p.tables)  # 130 + 65 is over 190
    assert "can't go below its floor" in p.tables[1].plan.reasons["blue"]


@pytest.mark.parametrize("most_volts", [9.5, 9.6, 9.9])
def test_the_dose_holds_where_the_port_does_not_reach_full(most_volts: float) -> None:
    port = ("  relay: {kind: column}\n", "  relay: {kind: column}\n  port: {most_volts: "
            f"{most_volts}, sink_milliamps: 40}}\n")  # fmt: skip
    p = compile_program(edited(port), march(1, 10))
    blue = p.tables[1].channels["blue"]
    assert "blue" in p.tables[1].plan.windows and blue.path.top_light < 1
    assert 0 <= blue.full_light_hours.plan - blue.full_light_hours.replay < STEP_S / 3600


def several(**more: object) -> Schedule:
    """Two debtors that exclude each other, tubes that fade, one fitted in the middle of it."""
    return edited(
        (BOTH_NEW[0], BOTH_NEW[1][:-1] + f", {FADING[2:]}}}"), zone=", ppfd_max: 200",
        a=FADING, b=FADING, owed=20, **more,
    )  # fmt: skip


@pytest.mark.parametrize("cut", range(1, 10))
def test_a_span_cut_anywhere_gives_the_same_tables_on_every_date(cut: int) -> None:
    found = several()
    whole = compile_program(found, march(1, 10))
    first = compile_program(found, march(1, cut))
    rest = march(cut + 1, 10)
    for second in (
        compile_program(found, rest, ledger_state_of(first)),
        compile_program(found, rest),
    ):
        for part, dates in ((first, march(1, cut)), (second, rest)):
            for date in dates:
                assert part.table_on(date).rows == whole.table_on(date).rows, date
                assert part.table_on(date).plan.dimmed == whole.table_on(date).plan.dimmed, date
        for id, tube in whole.tubes.items():
            assert second.tubes[id].hours.owed_hours == pytest.approx(tube.hours.owed_hours)
            assert second.tubes[id].hours.lit_hours == pytest.approx(tube.hours.lit_hours)


def test_a_wait_ends_on_a_monday_once_tubes_have_faded_enough() -> None:
    # New at 0 h: 130 x e^(100 α) = 130.67; after 6 days of 12 h by e^(-72 α): 130.19 on 2027-03-08,
    # a Monday. α is 5 % in 1,000 h.
    found = schedule(a=FADING, b=FADING, zone=", ppfd_max: 130.2")
    p = compile_program(found, march(1, 20))
    assert [table.plan.windows.keys() for table in p.tables][:3] == [set(), set(), {"blue"}]
    assert spans(p)[:2] == [(1, 1), (2, 7)]
    assert "from it alone, over its ppfd_max of 130.2" in p.tables[1].plan.reasons["blue"]
    for first in (3, 5, 7):  # also where the span begins in the middle of the wait
        later = compile_program(found, march(first, 20))
        assert spans(later)[0] == (first, 7)
        assert "blue" in later.tables[1].plan.windows


def test_a_day_that_is_dark_or_full_needs_no_table_of_its_own() -> None:
    p = program(start="00:00", end="24:00", ramp=0, light=100, zone="")
    assert len(p.controller_tables) == 1
    assert p.tubes["a"].hours.owed_hours == 0 and p.tubes["a"].hours.dimmed == []


def test_a_moonlight_is_never_run_at_full() -> None:
    p = program(light=2, zone="")
    assert not any(table.plan.windows for table in p.tables)
    assert p.tables[1].plan.reasons["blue"].startswith("its plan gives 2 % at most")


def test_a_window_stays_in_the_hours_of_its_own_plan() -> None:
    # blue is lit 01:00 to 05:00 by plan, white 08:00 to 22:00: never brought there
    p = program(start="01:00", end="05:00", zone="", ramp=10)
    start, stop = p.tables[1].plan.windows["blue"]
    assert 3600 <= start < stop <= 5 * 3600
    assert p.tables[1].plan.outside == {"blue"}


def test_a_day_at_full_is_never_longer_than_the_day_by_plan() -> None:
    # At 40 % of its light the plan's dose of 7.7 h would take 19 h at full; the day has 12.
    old = ", lit_hours: 18000, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
    p = program(a=old, b=old, owed=0.5, zone="", measured="")
    assert p.tables[1].channels["blue"].brightness == pytest.approx(0.95**17.9, rel=1e-6)
    assert not any(table.plan.windows for table in p.tables)
    assert "longer at full than its own day" in p.tables[1].plan.reasons["blue"]


def test_a_band_that_a_day_by_the_plan_keeps_is_kept_by_a_day_at_full() -> None:
    # The plan gives 7.70 + 9.10 full-light hours of 130: 7.86 mol; a day at full somewhat less.
    usual = compile_program(schedule(zone=""), None).zones["crest"].dli.replay
    text = TEXT.format(**USUAL).replace("dli: [2, 14]", f"dli: [{usual - 0.005:.3f}, 14]")
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    for table in p.tables:
        assert table.zones["crest"].dli.replay >= usual - 0.005


def test_tubes_that_still_grow_brighter_are_judged_on_every_date() -> None:
    # From 80 % at 0 h to 100 % at 100 h, seven days of 14 h, and 75 % at 400 h: a hump within the span.
    rising = (", depreciation: {kind: points, points: [{lit_hours: 0, light_percent: 80},"
              " {lit_hours: 100, light_percent: 100}, {lit_hours: 400, light_percent: 75}]}")  # fmt: skip
    change = ("  c: {watts: 54, fitted: 2026-03-02, lit_hours: 500}",
              f"  c: {{watts: 54, fitted: 2027-03-01{rising}}}")  # fmt: skip
    found = edited(
        change, fitted="2027-06-01", zone=", ppfd_max: 175"
    )  # 91 + 91 are 182 at the top
    p = compile_program(found, march(1, 31))
    assert len(p.controller_tables) == 1
    over = [d for d in run_checks(p)[0] if d.code == "PHO402"]
    assert len(over) == 1
    white = [table.channels["white"].brightness for table in p.tables]
    assert max(white) == pytest.approx(1.0, abs=0.005) and min(white) < 0.9
    for table in p.tables:  # each table is brightest on its first date
        assert table.channels["white"].brightness >= table.channels["white"].brightness_at_end
    alone = compile_program(found, march(8, 8))
    assert "PHO402" in {d.code for d in run_checks(alone)[0]}
