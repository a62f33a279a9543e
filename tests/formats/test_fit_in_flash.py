"""Fewer tables for a small memory: the search, by sizes made by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple, cast

import pytest

from photoperiod.formats.fit_in_flash import Trials, most_tables
from photoperiod.program.model import Program
from photoperiod.schedule.model import DatedTables, Schedule
from tests.conftest import SCHEDULE, compiled


class FakeProgram(NamedTuple):
    """As much of a program as the search looks at."""

    schedule: Schedule
    controller_tables: tuple[int, ...]


BASE = cast(Schedule, compiled(SCHEDULE).program.schedule)


def program_of(tables: int, schedule: Schedule = BASE) -> Program:
    return cast(Program, FakeProgram(schedule, tuple(range(tables))))


def search(
    tables: int,
    most_bytes: int,
    size: Callable[[int], int],
    can_be: Callable[[int], bool] = lambda _: True,
    gives: Callable[[int], int] = lambda number: number,
) -> tuple[Trials, list[int]]:
    """Return what the search finds, and the numbers of tables that it tried."""
    tried: list[int] = []

    def compile_one(schedule: Schedule) -> Program | None:
        number = schedule.dated_tables.tables
        assert number is not None
        tried.append(number)
        return program_of(gives(number), schedule) if can_be(number) else None

    def size_of(program: Program) -> int:
        return size(len(program.controller_tables))

    return most_tables(program_of(tables), compile_one, size_of, most_bytes), tried


def asked(trials: Trials) -> int | None:
    return None if trials.schedule is None else trials.schedule.dated_tables.tables


@pytest.mark.parametrize(
    ("most_bytes", "tables"),
    [(199, None), (200, 1), (299, 1), (300, 2), (650, 5), (1099, 9)],
)  # fmt: skip
def test_the_most_tables_that_fit_are_found(most_bytes: int, tables: int | None) -> None:
    """Sizes by hand: 100 bytes, and 100 for each of 10 tables."""
    trials, tried = search(10, most_bytes, lambda n: 100 + 100 * n)
    assert asked(trials) == tables
    assert (trials.program is None) is (tables is None)
    assert len(tried) <= 5
    assert trials.smallest_bytes == 100 + 100 * min(tried)


def test_every_other_part_of_the_schedule_stays() -> None:
    trials, _ = search(10, 650, lambda n: 100 + 100 * n)
    assert trials.schedule is not None and trials.program is not None
    assert trials.program.schedule == trials.schedule
    assert replace(trials.schedule, dated_tables=BASE.dated_tables) == BASE


def test_a_number_is_that_of_all_channels_where_a_moon_was_asked_apart() -> None:
    apart = replace(BASE, dated_tables=DatedTables(tables=12, moon=DatedTables(tables=24)))
    tried: list[DatedTables] = []

    def compile_one(schedule: Schedule) -> Program:
        tried.append(schedule.dated_tables)
        return program_of(schedule.dated_tables.tables or 0, schedule)

    most_tables(program_of(35, apart), compile_one, lambda made: len(made.controller_tables), 20)
    assert tried and all(each.moon is None for each in tried)


def test_sizes_that_do_not_grow_evenly_take_more_trials_and_end() -> None:
    sizes = {n: n**3 for n in range(1, 101)}
    trials, tried = search(100, 30_000, sizes.__getitem__)
    assert asked(trials) == 31  # 31³ = 29,791, 32³ = 32,768
    assert len(tried) == len(set(tried))


def test_numbers_of_tables_that_can_not_be_are_passed_over() -> None:
    trials, _ = search(10, 650, lambda n: 100 + 100 * n, can_be=lambda n: n <= 3)
    assert asked(trials) == 3


def test_what_never_fits_tells_the_smallest_size() -> None:
    """Clock changes leave four tables at least, of 500 bytes."""
    trials, _ = search(10, 450, lambda n: 100 + 100 * n, gives=lambda n: max(n, 4))
    assert trials == Trials(None, None, 500)


def test_one_table_leaves_nothing_to_give_up() -> None:
    trials, tried = search(1, 10, lambda n: 100 + 100 * n)
    assert trials == Trials(None, None, 200)
    assert tried == []


def test_fakes_have_what_programs_have() -> None:
    program: Any = compiled(SCHEDULE).program
    assert all(hasattr(program, name) for name in FakeProgram._fields)
