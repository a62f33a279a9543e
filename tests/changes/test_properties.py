"""What holds for changes whatever they are: doses rise to the plan, and cuts change nothing."""

from __future__ import annotations

import datetime as dt
import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.api import ScheduleError, compile
from photoperiod.formats.folder import render_all
from photoperiod.formats.ledger_json import ledger_state_before, parse_ledger, render_ledger
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_before import boundaries
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule
from tests.changes.bench import ACCLIMATION, CALM, DARK, MOVED, TEXT, scheduled, span, text_with
from tests.conftest import load

LISBON = "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\n"

#: A channel alone, with few rows and coarse times: each table is quick.
COARSE = TEXT.replace("time_step_minutes: 5", "time_step_minutes: 15").replace(
    "setpoints_per_channel: 12", "setpoints_per_channel: 8"
)


@settings(max_examples=3)
@given(
    percent=st.integers(25, 95),
    weeks=st.integers(1, 4),
    course=st.sampled_from(["linear", "geometric"]),
    peak=st.integers(30, 100),
)
def test_the_dose_of_an_acclimation_never_falls_and_ends_at_the_plan(
    percent: int, weeks: int, course: str, peak: int
) -> None:
    text = COARSE.replace("light_percent: 80", f"light_percent: {peak}")
    change = (
        f"{{kind: acclimation, from_date: 2027-04-01, over_days: {7 * weeks}, from_dose_percent: {percent},"
        f" course: {course}, channels: [blue]}}"
    )
    last = dt.date(2027, 4, 1) + dt.timedelta(days=7 * weeks)
    dates = DateSpan(dt.date(2027, 4, 1), last)
    found = compile_program(scheduled(change, text=text), dates)
    doses = [table.channels["blue"].full_light_hours.replay for table in found.tables]
    assert all(before <= after for before, after in itertools.pairwise(doses))
    plan = compile_program(scheduled(text=text), DateSpan(last, last))
    assert found.tables[-1].rows == plan.tables[0].rows
    assert doses[0] / doses[-1] == pytest.approx(percent / 100, abs=0.02)


def rows_by_date(*programs: Program) -> dict[dt.date, object]:
    return {date: t.rows for program in programs for t in program.tables for date in t.span or ()}


#: All kinds of changes within a few weeks.
MIXED = (
    ACCLIMATION.replace("over_days: 28", "over_days: 14"),
    DARK.replace("2027-06-07", "2027-04-05").replace("days: 3", "days: 2"),
    MOVED.replace("2027-07-01", "2027-04-10"),
    "{kind: other-day, from_date: 2027-04-20, day_plan: calm, days: 3}",
)
WHOLE = span("2027-03-30", "2027-04-25")


@pytest.fixture(scope="module")
def mixed() -> tuple[Schedule, Program]:
    schedule = scheduled(*MIXED, plans=CALM, text=COARSE)
    return schedule, compile_program(schedule, WHOLE)


@pytest.mark.parametrize("days", [7, 13])
def test_a_span_cut_in_two_with_a_ledger_gives_the_same_tables(
    mixed: tuple[Schedule, Program], days: int
) -> None:
    schedule, whole = mixed
    cut = WHOLE.first + dt.timedelta(days=days)
    early = DateSpan(WHOLE.first, cut - dt.timedelta(days=1))
    first = compile_program(schedule, early)
    ledger = parse_ledger("ledger.json", render_ledger(first, None))
    late = DateSpan(cut, WHOLE.last)
    state = ledger_state_before("ledger.json", ledger, schedule, late)
    second = compile_program(schedule, late, state)
    assert rows_by_date(first, second) == rows_by_date(whole)
    told = {each.date: each.before for each in boundaries(whole, "crest")}
    for each in list(boundaries(second, "crest"))[1:]:  # the first is no boundary of the whole
        assert each.before == told[each.date], each.date
    entries = parse_ledger("ledger.json", render_ledger(second, ledger))["entries"]
    expected = parse_ledger("ledger.json", render_ledger(whole, None))["entries"]
    assert entries[-1]["light"] == expected[-1]["light"]
    assert entries[-1]["peaks"] == expected[-1]["peaks"]


def test_dates_without_a_change_have_the_tables_of_the_plan(
    mixed: tuple[Schedule, Program],
) -> None:
    _, whole = mixed
    (plan,) = compile_program(scheduled(text=COARSE), span("2027-03-30", "2027-03-31")).tables
    assert whole.table_on(dt.date(2027, 3, 30)).rows == plan.rows
    dark = whole.table_on(dt.date(2027, 4, 6))
    assert all(not c.replay.light.any() for c in dark.channels.values())


def _some_change(draw: random.Random) -> str:
    first = dt.date(2027, 3, 20) + dt.timedelta(days=draw.randrange(20))
    of = draw.choice(["", ", channels: [blue]", ", channels: [white]"])
    days, percent = draw.randint(1, 9), draw.choice([3, 20, 50, 80, 99])
    minutes = draw.choice([-720, -60, 30, 600])
    rest = draw.choice([
        f"acclimation, over_days: {2 * days}, from_dose_percent: {percent}, every_days: 3{of}",
        f"dark-days, days: {days}, keep_moonlight: {draw.choice(['true', 'false'])}{of}",
        f"moved-hours, minutes_per_day: 60, minutes: {minutes}, every_days: {days}{of}",
        f"other-day, day_plan: calm, days: {days}",
        f"part-out, channel: {draw.choice(['blue', 'white'])}, ballasts: 1, days: {days}",
    ])  # fmt: skip
    return f"{{from_date: {first}, kind: {rest}}}"


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(14))
def test_any_changes_are_compiled_or_refused_with_a_reason(seed: int) -> None:
    draw = random.Random(seed)
    text = COARSE
    for old, new in (
        ("dark: {kind: relay}", "dark: {kind: never}"),
        ("between: line", "between: hold"),
        ("controller:\n", f"{LISBON}plan_clock: civil\ncontroller:\n"),
    ):
        text = text.replace(old, new, 1) if draw.random() < 0.25 else text
    changes = [_some_change(draw) for _ in range(draw.randint(1, 4))]
    plans = CALM if any("calm" in each for each in changes) else ""
    outcome = load("test.yaml", text_with(*changes, plans=plans, text=text).encode())
    if outcome.loaded is None:
        assert {d.code for d in outcome.report if d.severity == "error"} == {"PHO360"}
        return
    try:
        compiled = compile(outcome.loaded, WHOLE)
    except ScheduleError as fault:
        assert {d.code for d in fault.findings if d.severity == "error"} == {"PHO810"}
        return
    assert render_all(compiled.program, compiled.findings)
    assert compiled.program.tables[-1].span is not None
    assert compiled.program.tables[-1].span.last == WHOLE.last
