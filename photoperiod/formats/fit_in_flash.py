"""Fewer tables, where those that the errors ask for do not fit into a controller's memory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule


class Trials(NamedTuple):
    """What trials with fewer tables gave.

    ``schedule`` asks for the largest number of tables that fits and ``program`` holds them, both None
    if even one table, or as few as clock changes leave, does not fit; ``smallest_bytes`` is the size
    of the smallest program that was tried.
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

    With fewer tables each date strays further from its own plan, so the number is closed in on.

    Parameters
    ----------
    program : Program
        The one that is too large.
    compile_one : callable
        Compiles a schedule for the same dates; None if that can't be.
    size_of : callable
        The bytes that a program takes.
    most_bytes : int
        The bytes there are.
    """
    best: tuple[Schedule | None, Program | None] = None, None
    smallest = size_of(program)
    low, high = 0, len(program.controller_tables)  # what fits, and what does not
    low_bytes, high_bytes = 0, smallest
    while high - low > 1:
        # sizes grow evenly with tables, so that few trials are needed
        number = low + (high - low) * (most_bytes - low_bytes) // max(high_bytes - low_bytes, 1)
        number = min(max(number, low + 1), high - 1)
        seasons = replace(program.schedule.seasons, tables=number)
        schedule = replace(program.schedule, seasons=seasons)
        trial = compile_one(schedule)
        size = None if trial is None else size_of(trial)
        smallest = min(smallest, size or smallest)
        if size is not None and size <= most_bytes:
            best, low, low_bytes = (schedule, trial), number, size
        else:
            high, high_bytes = number, size or high_bytes
    return Trials(*best, smallest)
