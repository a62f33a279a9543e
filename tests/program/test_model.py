"""What a program holds: tables by date, and what the controller gets at once."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.program.bench import (
    march,
    program,
)


def test_each_table_is_a_load_unless_the_controller_holds_more() -> None:
    assert [len(load) for load in program().loads] == [1, 1, 1]
    assert [len(load) for load in program(tables=2).loads] == [2, 1]
    assert [len(load) for load in program(tables=9).loads] == [3]


def test_table_on_a_date() -> None:
    p = program()
    assert p.table_on(dt.date(2027, 3, 3)) is p.tables[1]
    with pytest.raises(ValueError, match="not within"):
        p.table_on(dt.date(2027, 4, 1))


def test_tables_with_the_same_rows_are_one_to_the_controller() -> None:
    # Blue burns in on the second and third: before it and after it the rows are those of the plan.
    p = program()
    tables = p.controller_tables
    assert [len(each.tables) for each in tables] == [1, 1, 1]
    assert [each.span for each in tables] == [march(1, 1), march(2, 3), march(4, 10)]
    left_alone = program(top="burn_in: leave\n", fitted="2027-03-05")
    (one,) = left_alone.controller_tables
    assert len(one.tables) == len(left_alone.tables)
    assert one.span == march(1, 10)
    assert one.channels is left_alone.tables[0].channels
