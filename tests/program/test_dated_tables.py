"""From a schedule and dates to a program."""

from __future__ import annotations

from photoperiod.program.dated_tables import compile_program
from tests.program.bench import (
    compiled,
    program,
    schedule,
)


def test_without_dates_nothing_is_planned() -> None:
    p = compile_program(schedule(), None)
    assert len(p.tables) == 1 and p.tables[0].span is None and not p.tables[0].plan.windows


def test_the_same_input_gives_the_same_tables() -> None:
    one, two = program(), program()
    assert [t.plan.windows for t in one.tables] == [t.plan.windows for t in two.tables]
    assert [t.channels["blue"].fit.rows for t in one.tables] == [
        t.channels["blue"].fit.rows for t in two.tables
    ]


def test_the_same_schedule_gives_the_same_program() -> None:
    first, second = compiled(), compiled()
    assert first.channels["blue"].fit.rows == second.channels["blue"].fit.rows
    assert first.zones["crest"].dli == second.zones["crest"].dli
