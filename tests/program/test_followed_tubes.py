"""Tubes over dates: hours burned and owed, and the light that they have left."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import pytest

from photoperiod.checks.run import run_checks
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.schedule.model import Schedule
from tests.conftest import load
from tests.program.bench import (
    FADING,
    LOSS,
    STEP_S,
    TEXT,
    USUAL,
    compiled,
    edited,
    march,
    program,
    spans,
)

TUBES = [
    ("zones:\n  crest", "tubes:\n  old: {watts: 54, fitted: 2026-01-01, lit_hours: 100}\n"
     "  new: {watts: 54, fitted: 2027-03-02T15:00, burn_in_full_hours: 12}\n"
     "  spare: {watts: 54, fitted: 2027-04-01}\nzones:\n  crest"),
    ("    ballast: pair\n", "    ballast: pair\n    tubes: [old, new, spare]\n"),
]  # fmt: skip


def test_tubes_are_followed_over_the_dates() -> None:
    span = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 10))
    leave = ("title: Worked by hand\n", "title: Worked by hand\nburn_in: leave\n")
    tubes = compiled(*TUBES, leave, span=span).tubes
    # 12 h a day from its fitting on; fitted on the second at 15:00: 6 h that day and eight days more
    days = (dt.date(2027, 3, 11) - dt.date(2026, 1, 1)).days
    assert tubes["old"].hours.lit_hours == pytest.approx(100 + 12 * days)
    assert tubes["new"].hours.lit_hours == pytest.approx(6 + 8 * 12)
    assert tubes["new"].hours.owed_hours == 12  # 80 % light is not full
    assert len(tubes["new"].hours.dimmed) == 9
    assert [(id, t.is_fitted) for id, t in tubes.items()] == [
        ("old", True), ("new", True), ("spare", False),
    ]  # fmt: skip
    assert tubes["spare"].hours.lit_hours == 0.0


def test_a_tube_burns_for_the_hours_that_pass() -> None:
    # Lit all day but for an hour, by a controller in civil time: 23 h, but 22 h and 24 h on the dates
    # on which its clock changes, 2027-03-28 and 2027-10-31.
    day = "start: 09:00, minutes: 60", "start: 12:00, minutes: 0"
    always = "end: 21:00, minutes: 60", "end: 11:00, minutes: 0"
    civil = "  clock: standard\n", "  clock: civil\n"
    plan = (
        "title: Worked by hand\n",
        "title: Worked by hand\nplan_clock: civil\n"
        "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n",
    )
    next_day = "kind: ramps\n", "kind: ramps\n      ends_next_day: true\n"
    only_old = (
        ("zones:\n  crest", "tubes:\n  old: {watts: 54, lit_hours: 100}\nzones:\n  crest"),
        ("    ballast: pair\n", "    ballast: pair\n    tubes: [old]\n"),
    )
    for month, date, hours in ((3, 27, 23), (3, 28, 22), (10, 31, 24)):
        only = DateSpan(dt.date(2027, month, date), dt.date(2027, month, date))
        found = compiled(*only_old, day, always, civil, plan, next_day, span=only)
        assert found.tubes["old"].hours.lit_hours == pytest.approx(100 + hours), date


def test_a_tube_is_fitted_up_to_the_last_second_of_the_span() -> None:
    for last, is_fitted in ((dt.date(2027, 3, 31), False), (dt.date(2027, 4, 1), True)):
        tubes = compiled(*TUBES, span=DateSpan(dt.date(2027, 3, 31), last)).tubes
        assert tubes["spare"].is_fitted is is_fitted


def test_burn_in_is_paid_on_a_ballast_that_is_full_below_ten_volts() -> None:
    # Full at 9.5 V, a square day to 100 %: undimmed for 12 h, six of which on the day before.
    program = compiled(
        *TUBES,
        ("full_volts: 10.0", "full_volts: 9.5"),
        ("start: 09:00, minutes: 60", "start: 09:00, minutes: 0"),
        ("end: 21:00, minutes: 60", "end: 21:00, minutes: 0"),
        ("light_percent: 80", "light_percent: 100"),
        ("between: line", "between: hold"),
        span=DateSpan(dt.date(2027, 3, 3), dt.date(2027, 3, 3)),
    )
    ledger = program.tubes["new"].hours
    assert program.channels["blue"].full_light_hours.replay == pytest.approx(12)
    assert ledger.owed_hours == 0.0
    assert ledger.owed_hours_before == 6.0
    assert ledger.paid_at == dt.datetime(2027, 3, 3, 15)
    assert ledger.dimmed == []


def test_the_last_date_there_is_can_be_compiled() -> None:
    last = dt.date.max
    late = (TUBES[0][0], TUBES[0][1].replace("2026-01-01", "9999-12-01")
            .replace("2027-03-02", "9999-12-02").replace("2027-04-01", "9999-12-03"))  # fmt: skip
    leave = ("title: Worked by hand\n", "title: Worked by hand\nburn_in: leave\n")
    program = compiled(late, TUBES[1], leave, span=DateSpan(last - dt.timedelta(days=1), last))
    assert program.tubes["old"].is_fitted
    # 12 h a day from its fitting on, the last date included
    assert program.tubes["old"].hours.lit_hours == pytest.approx(100 + 12 * 31)


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
    assert len(over) == 1 and " on 2027-03-05 at " in over[0].message


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


#: 100 % up to 100 h and 80 % from 1,000 h on, for good.
TO_80 = (", depreciation: {kind: points, points: [{lit_hours: 100, light_percent: 100},"
         " {lit_hours: 1000, light_percent: 80}]}")  # fmt: skip


def relamped(old: str, new: str) -> Schedule:
    """The white channel, measured on 2027-02-20, gets its only tube on 2027-03-05."""
    return edited(
        (REPLACED[0][0], f"{old}  d: {{watts: 54, fitted: 2027-03-05T08:00{new}}}"),
        ("tubes: [c]\n    full_ppfd: {",
         f"tubes: [{'c, ' if old else ''}d]\n    full_ppfd: {{measured_on: 2027-02-20, "),
        fitted="2027-04-02",
    )  # fmt: skip


def white_of(found: Schedule) -> list[tuple[int, float]]:
    """The first date of each table, and light at full beside that when PPFD was measured."""
    p = compile_program(found, march(1, 10))
    return [(t.span.first.day, t.channels["white"].brightness) for t in p.tables if t.span]


def test_a_channel_whose_only_tube_is_replaced_grows_brighter() -> None:
    """Measured at 80 %, 100 % with the new tube: 1.25 of what was measured."""
    old = f"  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 1000, place: only{TO_80}}}\n"
    found = relamped(old, f", place: only{TO_80}")
    assert white_of(found) == [(1, pytest.approx(1.0)), (5, pytest.approx(1.25))]
    tubes = compile_program(found, march(1, 10)).tubes
    # 14 h a day, the last on the day before the change, which comes at the first light
    days = (dt.date(2027, 3, 5) - dt.date(2026, 3, 2)).days
    assert tubes["c"].hours.lit_hours == pytest.approx(1000 + 14 * days)
    assert tubes["d"].hours.lit_hours == pytest.approx(14 * 6)
    # later spans are not about the old tube
    assert "c" not in compile_program(found, march(6, 7)).tubes
    assert "c" in compile_program(found, march(5, 7)).tubes


def test_a_tube_that_is_removed_earlier_burns_no_longer() -> None:
    old = (f"  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 1000, removed: 2027-03-02T15:00,"
           f" place: only{TO_80}}}\n")  # fmt: skip
    tubes = compile_program(relamped(old, f", place: only{TO_80}"), march(1, 10)).tubes
    # from 08:00 to 15:00 on the day of its removal
    days = (dt.date(2027, 3, 2) - dt.date(2026, 3, 2)).days
    assert tubes["c"].hours.lit_hours == pytest.approx(1000 + 14 * days + 7, abs=1 / 60)


def test_an_old_tube_that_is_not_told_is_taken_as_worn_out() -> None:
    found = relamped("", f", replace_after_hours: 1000{TO_80}")
    assert white_of(found) == [(1, pytest.approx(1.0)), (5, pytest.approx(1.25))]


def test_a_new_tube_of_more_watts_gives_more_light() -> None:
    old = "  c: {watts: 40, fitted: 2026-03-02, place: only}\n"
    assert white_of(relamped(old, ", place: only")) == [
        (1, pytest.approx(1.0)), (5, pytest.approx(54 / 40)),
    ]  # fmt: skip


def test_loss_without_a_date_of_the_measurement_never_scales_the_light_down() -> None:
    # PPFD may have been measured with tubes as worn out as those of today: 80 %, not 100 %.
    old = (
        f"  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 1000, replace_after_hours: 1000{TO_80}}}"
    )
    found = edited((REPLACED[0][0], old), fitted="2027-04-02")
    assert white_of(found) == [(1, pytest.approx(1.0))]


def test_on_the_date_of_a_change_the_darker_tube_counts_as_measured() -> None:
    old = f"  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 1000, place: only{TO_80}}}\n"
    found = relamped(old, f", place: only{TO_80}")
    white = replace(found.channels["white"], measured_on=dt.date(2027, 3, 5))
    found = replace(found, channels={**found.channels, "white": white})
    assert white_of(found) == [(1, pytest.approx(1.0)), (5, pytest.approx(1.25))]


@pytest.mark.parametrize("removed", ["", ", removed: 2027-03-02"])
@pytest.mark.parametrize("first", [4, 5])
def test_a_tube_that_leaves_as_the_span_begins_is_as_worn_as_it_is(
    first: int, removed: str
) -> None:
    """It is at 80 % since 2026, as it was measured; the new one, of a tenth of its watts, gives less."""
    old = f"  c: {{watts: 54, fitted: 2026-03-02, place: only{removed}{TO_80}}}\n"
    found = edited(
        (REPLACED[0][0], f"{old}  d: {{watts: 5.4, fitted: 2027-03-05, place: only{TO_80}}}"),
        ("tubes: [c]\n    full_ppfd: {",
         "tubes: [c, d]\n    full_ppfd: {measured_on: 2027-02-20, "),
        fitted="2027-04-02",
    )  # fmt: skip
    table = compile_program(found, march(first, first)).tables[0]
    assert table.channels["white"].brightness == pytest.approx(1.0)
