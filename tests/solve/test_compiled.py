"""Doses on dates, with tubes that fade."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.solve.compiled import compile_found
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
