"""The finished table gives another dose than the reachable plan."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A change is reported if it is larger than this share of the plan, and larger than these
#: full-light hours. Our choice, no source.
WORTH_SHARE = 0.05
WORTH_HOURS = 0.05


def table_changes_dose(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table gives more or less light than its plan in a day."""
    season = program.tables[0].season
    for id, c in program.channels.items():
        if season is not None and id in season.channels and season.channels[id].days > 1:
            continue  # PHO426 is about tables that stand for many dates
        planned, given = c.full_light_hours.reachable, c.full_light_hours.replay
        if abs(given - planned) <= max(WORTH_SHARE * planned, WORTH_HOURS):
            continue
        change = f"{(given / planned - 1) * 100:+.0f} %" if planned else "from nothing"
        yield on_key(
            "PHO418",
            c.channel.path,
            f"the table of '{id}' gives {number_text(given)} full-light hours a day, the"
            f" reachable plan {number_text(planned)} ({change})",
            help="use a finer time step or level step, more rows, or slower ramps",
            gravity=abs(given - planned),
        )
