"""Which day plan holds when: burn-in day by day, waits until Monday, and cuts that change nothing."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dated_plan import DatedPlan
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_sequence import DaySequence
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.burn_in_plan import BY_PLAN
from tests.program.bench import (
    BOTH_NEW,
    FADING,
    STEP_S,
    edited,
    full_minutes,
    ledger_state_of,
    march,
    program,
    schedule,
    spans,
)


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


def test_steps_of_a_quarter_of_an_hour_do_not_make_days_at_full_dimmed() -> None:
    # A line from the last full row to the dark row takes one step of 900 s, not five minutes.
    p = compile_program(edited(("time_step_minutes: 1", "time_step_minutes: 15")), march(1, 4))
    assert any(table.plan.windows for table in p.tables)
    for id in ("a", "b"):
        assert p.tubes[id].hours.owed_hours == 0
        assert p.tubes[id].hours.dimmed == []
        assert p.tubes[id].hours.edge_seconds >= 890


def test_days_that_are_left_alone_stay_as_they_are() -> None:
    p = program(top="burn_in: leave\n")
    assert spans(p) == [(1, 10)]
    assert len(p.tubes["a"].hours.dimmed) == 9
    assert p.tubes["a"].hours.owed_hours == 12


@pytest.mark.parametrize(
    "cut", [2, 4, *(pytest.param(cut, marks=pytest.mark.slow) for cut in (1, 3, 7))]
)
def test_a_span_cut_in_two_gives_the_same_ledger_with_or_without_a_ledger(cut: int) -> None:
    whole = program()
    first = program(march(1, cut))
    ledger_before = ledger_state_of(first)
    rest = march(cut + 1, 10)
    with_ledger = compile_program(schedule(), rest, ledger_before)
    without = compile_program(schedule(), rest)
    for id, t in whole.tubes.items():
        for second in (with_ledger, without):
            ledger = second.tubes[id].hours
            assert ledger.lit_hours == pytest.approx(t.hours.lit_hours, abs=1e-9)
            assert ledger.owed_hours == pytest.approx(t.hours.owed_hours, abs=1e-9)
        if cut < 3:
            assert with_ledger.tubes[id].hours.paid_at == t.hours.paid_at
    assert [t.plan.windows for t in with_ledger.tables] == [t.plan.windows for t in without.tables]


@pytest.mark.parametrize(
    ("blue", "white", "is_taken"),
    [
        (0.7, 0.9, True),  # as they were when the dates before ended
        (0.7, 0.8, True),
        (0.71, 0.9, False),  # brighter than then, though not than when those dates began
        (0.7, 0.91, False),
        (1.0, 1.0, False),
    ],
)
def test_no_channel_grows_brighter_within_the_dates_of_a_table(
    blue: float, white: float, is_taken: bool
) -> None:
    day_type = DaySequence(schedule(), march(1, 9)).first()
    before = DatedPlan(
        march(1, 4).first,
        march(1, 4).last,
        day_type,
        BY_PLAN,
        {"blue": 1.0, "white": 1.0},
        {"blue": 0.7, "white": 0.9},
    )
    begin = {"blue": blue, "white": white}
    assert (
        before.takes(
            DatedPlan(march(5, 9).first, march(5, 9).last, day_type, BY_PLAN, begin, begin)
        )
        == is_taken
    )


def several(**more: object) -> Schedule:
    """Two debtors that exclude each other, tubes that fade, one fitted in the middle of it."""
    return edited(
        (BOTH_NEW[0], BOTH_NEW[1][:-1] + f", {FADING[2:]}}}"), zone=", ppfd_max: 200",
        a=FADING, b=FADING, owed=20, **more,
    )  # fmt: skip


@pytest.mark.parametrize(
    "cut",
    [pytest.param(cut, marks=() if cut == 5 else pytest.mark.slow) for cut in range(1, 10)],
)
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
