"""From a schedule and dates to a program."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

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


EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "teaching-reef.yaml"

#: Compiles a day of an example with freed memory kept or not; what is printed is how often a page was new.
DAY = """
import resource, sys
from photoperiod.api import load
from photoperiod.program import dated_tables
if sys.argv[2] == "usual":
    dated_tables.keep_freed_memory = lambda: None
schedule = load(sys.argv[1]).schedule
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
dated_tables.compile_program(schedule)
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


def test_a_day_of_no_date_uses_freed_memory_again() -> None:
    def new_pages(how: str) -> int:
        command = [sys.executable, "-c", DAY, str(EXAMPLE), how]
        return int(subprocess.run(command, capture_output=True, check=True).stdout)

    # An array of a day's seconds is 169 pages of 4 KiB: at least five of them are not asked for anew.
    assert new_pages("usual") - new_pages("kept") > 5 * 169
