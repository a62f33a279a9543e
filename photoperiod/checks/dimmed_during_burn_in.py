"""A new tube is dimmed before its burn-in is paid."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text

if TYPE_CHECKING:
    from photoperiod.tubes.hours import Dimmed


def dimmed_during_burn_in(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is dimmed while it owes burn-in.

    Where the plan itself dims it, because the animals would get too much, PHO419 tells of it.
    """
    for id, t in program.tubes.items():
        dimmed = [run for run in t.hours.dimmed if not _waits(program, t.channel, run)]
        if not dimmed:
            continue
        first = dimmed[0]
        c = program.table_on(first.date).channels[t.channel]
        count = int(c.replay.counts[first.second])
        level = float(c.path.level_percents[count])
        dates = len({run.date for run in dimmed})
        total = hours_text(sum(run.length_s for run in dimmed))
        days = "1 date" if dates == 1 else f"{dates} dates"
        step_s = program.schedule.controller.times.step_s
        is_edge = all(run.length_s <= step_s for run in dimmed)
        yield on_value(
            "PHO406",
            (*t.tube.path, "burn_in_full_hours"),
            f"tube '{id}' is dimmed on {first.date} at {clock_text(first.second)} to"
            f" {number_text(level)} % level with {number_text(first.owed_hours)} h of burn-in owed;"
            f" in all {total} on {days}"
            + (
                f", each time between dark and full within one time step of {hours_text(step_s)}"
                if is_edge
                else ""
            ),
            help="a finer time step brings it from dark to full faster"
            if is_edge
            else "keep the channel dark or full until the burn-in is paid and shorten its day to keep"
            " the dose, or burn the tube in elsewhere and enter the hours",
            related=(Related(message="its channel", path=c.channel.path),),
        )


def _waits(program: Program, channel: str, run: Dimmed) -> bool:
    return channel in program.table_on(run.date).plan.dimmed
