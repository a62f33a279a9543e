"""Rows that were moved for a dose take the place of one table, and of no other."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_fit import fit_day, plan_targets
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.moves import Found, FoundRows
from photoperiod.setpoints.row_moves import RowMoves
from tests.conftest import changed, load


def schedule(*changes: tuple[str, str]) -> Schedule:
    found = load("test.yaml", changed(*changes).encode()).schedule
    assert found is not None
    return found


def with_a_row_moved(asked: Schedule) -> tuple[Schedule, FoundRows]:
    targets = plan_targets(asked, DayCurves(asked).curves(None))
    fitted = fit_day(asked, targets)["blue"]
    table = RowMoves(fitted.target, fitted.fit, has_own_times=True)
    rows = FoundRows(channel="blue", fitted=fitted.fit.rows, moved=table.moved([table.single[0]]))
    return replace(asked, found=Found(doses=(), days=(), rows=(rows,))), rows


def test_rows_take_the_place_of_the_table_of_their_day() -> None:
    asked = schedule()
    found, rows = with_a_row_moved(asked)
    assert rows.count == 1
    program = compile_program(found)
    assert program.channels["blue"].fit.rows == rows.moved
    plain = compile_program(asked).channels["blue"].fit
    assert plain.rows == rows.fitted
    moved = program.channels["blue"].fit.certificate
    assert moved.bound == plain.certificate.bound
    assert moved.error <= max(1.05 * moved.bound + 1e-6, plain.certificate.error)
    assert not moved.is_closest


def test_another_table_stays_as_it_is() -> None:
    found, rows = with_a_row_moved(schedule())
    other = schedule(("{start: 09:00, minutes: 60}", "{start: 10:00, minutes: 60}"))
    program = compile_program(replace(other, found=found.found))
    assert program.channels["blue"].fit.rows == compile_program(other).channels["blue"].fit.rows
    assert program.channels["blue"].fit.rows != rows.moved
