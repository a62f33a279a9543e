"""Fewer dated tables, for a controller whose memory is too small for all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule


class Trials(NamedTuple):
    """The result of trials with fewer tables.

    Parameters
    ----------
    schedule, program : Schedule, Program or None
        The schedule that asks for the largest number of tables that fits, and the program of it. None
        if no number fits: even one table, or the few that clock changes demand, are too large.
    smallest_bytes : int
        The size of the smallest program that was tried. [bytes]
    """

    schedule: Schedule | None
    program: Program | None
    smallest_bytes: int


def most_tables(
    program: Program,
    compile_one: Callable[[Schedule], Program | None],
    size_of: Callable[[Program], int],
    most_bytes: int,
) -> Trials:
    """Return the program of the most tables that fit.

    With fewer tables each date strays further from its own plan, so the largest number is searched
    for, by trials between one that fits and one that does not.

    Parameters
    ----------
    program : Program
        The program that is too large.
    compile_one : callable
        Compiles a schedule for the same dates; returns None if a day can't be built.
    size_of : callable
        Returns the size of a program. [bytes]
    most_bytes : int
        The memory that there is. [bytes]
    """
    best: tuple[Schedule | None, Program | None] = None, None
    smallest = size_of(program)
    low, high = 0, len(program.controller_tables)  # what fits, and what does not
    low_bytes, high_bytes = 0, smallest
    while high - low > 1:
        # sizes grow about evenly with tables, so that a straight line needs few trials
        number = low + (high - low) * (most_bytes - low_bytes) // max(high_bytes - low_bytes, 1)
        number = min(max(number, low + 1), high - 1)
        dated_tables = replace(program.schedule.dated_tables, tables=number, moon=None)
        schedule = replace(program.schedule, dated_tables=dated_tables)
        trial = compile_one(schedule)
        size = None if trial is None else size_of(trial)
        smallest = min(smallest, size or smallest)
        if size is not None and size <= most_bytes:
            best, low, low_bytes = (schedule, trial), number, size
        else:
            high, high_bytes = number, size or high_bytes
    return Trials(*best, smallest)
