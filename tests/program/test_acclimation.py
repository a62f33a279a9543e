"""The steps of an acclimation: doses of finished tables, from the first step to the plan."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools

import pytest

from photoperiod.api import ScheduleError, compile
from photoperiod.changes.altered_days import Scale
from photoperiod.changes.changed_days import ChangedDays
from photoperiod.program import dated_plan
from photoperiod.program.acclimation import MOST_OFF, NEAR, Step, TableAcclimator, _Search
from photoperiod.program.burn_in_day import BurnInDate, plan_burn_in
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program
from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan
from tests.changes.bench import ACCLIMATION, DARK, TEXT, scheduled, span

APRIL = span("2027-03-31", "2027-04-29")


def doses(program: Program, channel: str = "blue") -> list[float]:
    return [table.channels[channel].full_light_hours.replay for table in program.tables]


def rises(given: list[float]) -> bool:
    return all(before <= after for before, after in itertools.pairwise(given))


@pytest.fixture(scope="module")
def april() -> Program:
    return compile_program(scheduled(ACCLIMATION), APRIL)


def test_the_dose_of_finished_tables_follows_the_shares(april: Program) -> None:
    for id in ("blue", "white"):
        whole, *steps, last = doses(april, id)
        assert last == whole
        shares = [dose / whole for dose in steps]
        assert shares == pytest.approx([0.6, 0.7, 0.8, 0.9], abs=2 * NEAR)
        assert rises([*steps, last])


def test_zones_get_their_share_of_the_dose(april: Program) -> None:
    whole = april.tables[0].zones["crest"].dli.replay
    shares = [table.zones["crest"].dli.replay / whole for table in april.tables[1:-1]]
    assert shares == pytest.approx([0.6, 0.7, 0.8, 0.9], abs=2 * NEAR)


def test_four_weeks_are_four_loads(april: Program) -> None:
    firsts = [str(table.span.first) for table in april.tables if table.span]
    assert firsts == [
        "2027-03-31", "2027-04-01", "2027-04-08", "2027-04-15", "2027-04-22", "2027-04-29",
    ]  # fmt: skip
    assert len(april.loads) == 6


def test_equal_plans_share_one_fit(april: Program) -> None:
    before, after = april.tables[0], april.tables[-1]
    assert before.channels["blue"].fit is after.channels["blue"].fit


def test_the_first_step_is_found_first_wherever_the_dates_begin(april: Program) -> None:
    late = compile_program(scheduled(ACCLIMATION), span("2027-04-15", "2027-04-21"))
    assert late.tables[0].rows == april.tables[3].rows


def test_zones_choose_the_channels_and_others_stay() -> None:
    change = f"{ACCLIMATION[:-1]}, zones: [sand]}}"
    found = compile_program(scheduled(change), span("2027-03-31", "2027-04-01"))
    plan, step = found.tables
    assert step.channels["white"].fit.rows == plan.channels["white"].fit.rows
    share = step.zones["sand"].dli.replay / plan.zones["sand"].dli.replay
    assert share == pytest.approx(0.6, abs=2 * NEAR)


def test_a_channel_at_its_floor_gets_a_shorter_day() -> None:
    # 2 % of light with a floor of 1 %: at a quarter of the dose its plateau stands at the floor
    dim = TEXT.replace("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 2}]")
    change = ACCLIMATION.replace("from_dose_percent: 60", "from_dose_percent: 25, channels: [blue]")
    found = compile_program(
        scheduled(
            change,
            text=dim.replace(
                "    moonlight: {kind: steady, light_percent: 2, start: 22:00, end: 02:00}\n", ""
            ),
        ),
        APRIL,
    )
    given = doses(found)
    assert given[1] / given[0] == pytest.approx(0.25, abs=MOST_OFF)
    assert rises(given[1:])
    plan, step = found.tables[0].channels["blue"], found.tables[1].channels["blue"]
    assert step.lit_seconds < plan.lit_seconds * 0.6
    lit = step.replay.lit.nonzero()[0]
    assert (lit[0] + lit[-1]) / 2 / 3600 == pytest.approx(15.0, abs=0.1)  # about its middle
    assert step.replay.light.max() == pytest.approx(0.01, abs=0.003)


def test_what_no_table_gives_is_refused_with_the_nearest() -> None:
    # A ballast that is never dark gives its floor of 10 % all night: 24 h × 0.1 of about 10.1 h.
    never = TEXT.replace("dark: {kind: relay}", "dark: {kind: never}").replace(
        "floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 1.0, light_percent: 10}"
    )
    change = ACCLIMATION.replace("from_dose_percent: 60", "from_dose_percent: 5, channels: [blue]")
    with pytest.raises(ScheduleError) as fault:
        compile(scheduled(change, text=never), dt.date(2027, 4, 1))
    found = [each for each in fault.value.findings if each.code == "PHO810"]
    assert [each.path for each in found] == [("changes", 0, "from_dose_percent")]
    assert (
        "should give 5 % of its dose, and the nearest that a table gives is 2" in found[0].message
    )
    assert "begin from 2" in found[0].help


def test_a_span_cut_in_two_gives_the_same_tables(april: Program) -> None:
    schedule = scheduled(ACCLIMATION)
    parts = [
        compile_program(schedule, each)
        for each in (span("2027-03-31", "2027-04-10"), span("2027-04-11", "2027-04-29"))
    ]
    by_date = {
        date: table.rows for part in parts for table in part.tables for date in table.span or ()
    }
    assert by_date == {date: table.rows for table in april.tables for date in table.span or ()}


@pytest.mark.slow
def test_daily_steps_never_fall() -> None:
    change = ACCLIMATION.replace("over_days: 28", "over_days: 21, every_days: 1, course: geometric")
    found = compile_program(scheduled(change), span("2027-04-01", "2027-04-22"))
    assert rises(doses(found)) and rises(doses(found, "white"))
    assert doses(found)[0] / doses(found)[-1] == pytest.approx(0.6, abs=2 * NEAR)


def test_dark_days_in_the_middle_leave_the_steps_as_they_are(april: Program) -> None:
    dark = DARK.replace("2027-06-07", "2027-04-10").replace("days: 3", "days: 2")
    found = compile_program(scheduled(ACCLIMATION, dark), span("2027-04-08", "2027-04-14"))
    before, none, after = found.tables
    assert before.rows == after.rows == april.tables[2].rows
    assert none.zones["crest"].peak_ppfd == 0


@pytest.mark.slow
def test_shared_times_are_found_together() -> None:
    shared = TEXT.replace(
        "  time_step_minutes: 5\n", "  time_step_minutes: 5\n  shared_times: true\n"
    )
    found = compile_program(scheduled(ACCLIMATION, text=shared), span("2027-04-01", "2027-04-29"))
    assert rises(doses(found)) and rises(doses(found, "white"))
    shares = [dose / doses(found)[-1] for dose in doses(found)[:-1]]
    assert shares == pytest.approx([0.6, 0.7, 0.8, 0.9], abs=MOST_OFF)


def test_days_that_follow_the_sun_are_acclimated_by_their_light() -> None:
    sun = TEXT.replace(
        "controller:\n",
        "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n",
    )
    sun = sun.replace(
        "      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n      peaks: [{light_percent: 80}]\n"
        "      dusk: {end: 21:00, minutes: 60}\n",
        "      kind: sun\n      peak_light_percent: 80\n",
    )
    plain = compile_program(scheduled(text=sun), span("2027-04-01", "2027-04-28"))
    found = compile_program(scheduled(ACCLIMATION, text=sun), span("2027-04-01", "2027-04-28"))
    assert len(found.tables) >= 4
    for date, share in (("2027-04-04", 0.6), ("2027-04-25", 0.9)):
        day = dt.date.fromisoformat(date)
        given = found.table_on(day).channels["blue"].full_light_hours.replay
        whole = plain.table_on(day).channels["blue"].full_light_hours.replay
        assert given / whole == pytest.approx(share, abs=0.06)  # dated_tables allow 5 % each


#: New tubes for white, in a zone whose band would allow twice the light.
NEW_TUBES = (
    "tubes:\n  white-a: {watts: 54, fitted: 2027-04-02T06:00, burn_in_full_hours: 4}\n"
    "  white-b: {watts: 54, fitted: 2027-04-02T06:00, burn_in_full_hours: 4}\nzones:\n"
)
_WHITE = "  white:\n    ballast: pair\n    ballast_count: 1\n"
RENEWED = (
    TEXT.replace("zones:\n", NEW_TUBES, 1)
    .replace("crest: {ppfd_max", "crest: {dli: [1, 20], ppfd_max")
    .replace(_WHITE, f"{_WHITE}    tubes: [white-a, white-b]\n")
)


def test_a_burn_in_that_waits_is_weighed_again_on_the_day_of_a_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    weighed = 0

    def wait(date: BurnInDate) -> DayPlan:
        nonlocal weighed
        weighed += 1
        return dataclasses.replace(BY_PLAN, dimmed=frozenset(date.owing))

    monkeypatch.setattr(dated_plan, "plan_burn_in", wait)
    compile_program(scheduled(ACCLIMATION, text=RENEWED), span("2027-04-01", "2027-04-11"))
    # fitted on Friday 2027-04-02, weighed again on Monday the 5th and with the step of Thursday the 8th
    assert weighed == 3


def test_burn_in_gives_no_zone_more_than_the_acclimation(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[frozenset[str]] = []

    def plan(date: BurnInDate) -> DayPlan:
        asked.append(date.acclimated)
        return plan_burn_in(date)

    monkeypatch.setattr(dated_plan, "plan_burn_in", plan)
    found = compile_program(scheduled(ACCLIMATION, text=RENEWED), span("2027-04-01", "2027-04-08"))
    assert asked == [frozenset({"blue", "white"})] * len(asked) != []
    burning = [table for table in found.tables if "white" in table.plan.windows]
    assert burning
    first = found.tables[0].zones
    for table in burning:
        for id in ("crest", "sand"):
            assert table.zones[id].dli.replay <= first[id].dli.replay * (1 + 2 * NEAR), id


@pytest.mark.parametrize(
    ("given", "before", "part"),
    [
        (500.0, 400.0, 0.5),  # it rises: the table that was found
        (500.0, 500.0, 0.5),
        (500.0, 520.0, 0.48),  # it would fall: the table of the step before
        (1001.0, 400.0, 1.0),  # it would give more than the plan
    ],
)
def test_a_step_neither_falls_nor_passes_the_plan(given: float, before: float, part: float) -> None:
    schedule = scheduled(ACCLIMATION)
    days = ChangedDays(schedule)
    finder = TableAcclimator(schedule, days, lambda _: {}, lambda _curves, _fitted: None)
    search = _Search.of(0.5, 1000.0, (0.0, 0.0))
    search.best_part, search.best_s = 0.5, given
    step = Step({"blue": Scale(0.48)}, {"blue": before}, {"blue": 1000.0})
    assert finder._rising("blue", search, step) == part
    assert finder._rising("blue", search, None) == (1.0 if given > 1000 else 0.5)


def test_a_search_closes_in_on_a_dose_that_comes_in_steps() -> None:
    # A table gives only whole hundreds: 450 of 1,000 lies between two of them.
    search = _Search.of(0.45, 1000.0, (0.0, 0.0))
    tried = []
    while not search.is_done:
        part = search.next_part
        tried.append(part)
        search.tell(part, round(part * 10) * 100.0)
    assert len(tried) < 25
    assert search.best_s == 400.0  # as near as 500, and less


def test_tables_of_dates_by_the_sun_begin_anew_with_each_step() -> None:
    # 97 to 100 % in steps of 1 %: within what `dated_tables` lets the dose of one table be off
    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n"
    text = TEXT.replace("controller:\n", place).replace("start: 09:00", "start: sunrise")
    change = ACCLIMATION.replace("over_days: 28", "over_days: 9, every_days: 3").replace("60", "97")
    found = compile_program(scheduled(change, text=text), span("2027-04-01", "2027-04-12"))
    firsts = {str(table.span.first) for table in found.tables if table.span}
    assert {"2027-04-04", "2027-04-07", "2027-04-10"} <= firsts


def test_a_plan_that_follows_its_clock_slowly_begins_anew_with_each_step() -> None:
    slow = TEXT.replace(
        "controller:\n",
        "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\nplan_clock: civil\n"
        "clock_change_minutes_per_day: 5\ncontroller:\n",
    )
    change = ACCLIMATION.replace("2027-04-01", "2027-05-01").replace(
        "over_days: 28", "over_days: 14"
    )
    found = compile_program(scheduled(change, text=slow), span("2027-04-30", "2027-05-15"))
    firsts = [str(table.span.first) for table in found.tables if table.span]
    assert firsts == ["2027-04-30", "2027-05-01", "2027-05-08", "2027-05-15"]
    shares = [dose / doses(found)[0] for dose in doses(found)]
    assert shares == pytest.approx([1.0, 0.6, 0.8, 1.0], abs=2 * NEAR)
