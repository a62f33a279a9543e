"""Doses on dates, with tubes that fade."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.days.signals import DayFault
from photoperiod.program.dates import DateSpan
from photoperiod.schedule.model import Schedule
from photoperiod.solve import compiled
from photoperiod.solve.compiled import compile_found
from photoperiod.solve.search import with_found_days
from tests.conftest import changed, load

FADING = ("blue-a: {watts: 54}", "blue-a: {watts: 54, lit_hours: 2000, fitted: 2027-01-01,"
          " depreciation: {kind: exponential, loss_percent_per_1000_h: 10}}")  # fmt: skip
ASKS = (
    ("dli: [3, 5],", "wanted_dli: 3.6,"),
    ("{zones: {crest: 130}}\n", "{measured_on: 2027-01-02, zones: {crest: 130}}\n"
     "    may_move: {peak_light_percent: [40, 100]}\n"),
)  # fmt: skip


def test_the_dose_is_that_of_the_first_date_on_tubes_that_have_faded() -> None:
    schedule = load("test.yaml", changed(FADING, *ASKS).encode()).schedule
    assert schedule is not None
    span = DateSpan(dt.date(2027, 4, 1), dt.date(2027, 4, 30))
    program = compile_found(schedule, span)
    (dose,) = program.schedule.found.doses  # type: ignore[union-attr]
    z = program.tables[0].zones["crest"]
    # 89 days of 12 h from New Year to April are 1,068 h: exp(ln(0.9) × 1.068) = 0.894
    assert program.channels["blue"].brightness == pytest.approx(0.894, abs=0.002)
    assert z.dli.replay == pytest.approx(dose.dose, rel=1e-4)
    assert abs(z.dli.replay - 3.6) <= dose.within + 1e-9
    assert z.dli_at_end < z.dli.replay


def test_without_dates_tubes_are_as_measured() -> None:
    schedule = load("test.yaml", changed(*ASKS).encode()).schedule
    assert schedule is not None
    program = compile_found(schedule)
    assert program.zones["crest"].dli.replay == pytest.approx(3.6, abs=0.036)


def test_changes_act_on_the_days_that_were_found() -> None:
    change = "changes:\n  - {kind: acclimation, from_date: 2027-04-01, over_days: 7, from_dose_percent: 60}\n"
    schedule = load("test.yaml", (changed(*ASKS) + change).encode()).schedule
    assert schedule is not None
    program = compile_found(schedule, DateSpan(dt.date(2027, 4, 7), dt.date(2027, 4, 8)))
    step, plan = (table.zones["crest"].dli.replay for table in program.tables)
    assert plan == pytest.approx(3.6, abs=0.036)
    assert step == pytest.approx(0.6 * plan, rel=0.02)


PLACE = (
    "title: Test bench\n",
    "title: Test bench\nplace: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n",
)


@pytest.mark.parametrize("dose", [3.6, 3.61])
@pytest.mark.parametrize("clock", ["civil", "utc"])
def test_where_clocks_differ_the_tables_on_the_controllers_clock_give_the_dose(
    clock: str, dose: float
) -> None:
    asks = tuple((old, new.replace("3.6", str(dose))) for old, new in ASKS)
    text = changed(*asks, PLACE, ("  clock: standard\n", f"  clock: {clock}\n"))
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None
    # The Azores keep summer time from the last Sunday of March (Directive 2000/84/EC): in 2027 the 28th.
    program = compile_found(schedule, DateSpan(dt.date(2027, 3, 20), dt.date(2027, 4, 5)))
    (found,) = program.schedule.found.doses  # type: ignore[union-attr]
    whole = [t for t in program.tables if t.day.length_s == 86_400]
    assert len(whole) >= (2 if clock == "civil" else 1)
    for table in whole:
        assert table.zones["crest"].dli.replay == pytest.approx(dose, abs=found.within + 1e-9)
    first = {t.channels["blue"].fit.rows[0].second for t in whole}
    assert len(first) == len(whole), "the same light, an hour later"


def test_rows_that_fall_on_other_times_by_the_controllers_clock_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = changed(*ASKS, PLACE, ("  clock: standard\n", "  clock: utc\n"))
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None

    def other(asked: Schedule, *args: object) -> Schedule:
        found = with_found_days(asked)
        assert found.found is not None
        (dose,) = found.found.doses
        moved = replace(dose, wanted=(3.0, 3.0))
        return replace(found, found=replace(found.found, doses=(moved,)))

    monkeypatch.setattr(compiled, "with_found_days", other)
    with pytest.raises(DayFault) as fault:
        compile_found(schedule, DateSpan(dt.date(2027, 1, 20), dt.date(2027, 1, 20)))
    (told,) = fault.value.diagnostics
    assert told.code == "PHO803"
    assert "by the controller's, which is 60 min ahead" in told.message


def test_dates_of_burn_in_go_by_its_plan_and_the_dose_comes_after_it() -> None:
    new = (
        "blue-a: {watts: 54}",
        "blue-a: {watts: 54, lit_hours: 0, fitted: 2027-04-01, burn_in_full_hours: 12}",
    )
    text = changed(new, *ASKS).replace("{measured_on: 2027-01-02, zones", "{zones")
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None
    program = compile_found(schedule, DateSpan(dt.date(2027, 4, 1), dt.date(2027, 4, 10)))
    roles = [str(t.channels["blue"].role) for t in program.tables]
    assert roles[0] == "full" and roles[-1] == "plan"
    (found,) = program.schedule.found.doses  # type: ignore[union-attr]
    assert program.tables[-1].zones["crest"].dli.replay == pytest.approx(
        3.6, abs=found.within + 1e-3
    )
    for table in program.tables[:-1]:
        assert table.zones["crest"].dli.replay <= 3.6 * 1.02
