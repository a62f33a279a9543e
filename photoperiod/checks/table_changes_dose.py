"""The table changes the dose."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO418"
TITLE = "the finished table gives about the light that the reachable plan gives in a day"
NEEDS_DATES = False

#: A change from which it is reported: this share, and this much [full-light hours]. Our choice.
WORTH_SHARE = 0.05
WORTH_HOURS = 0.05


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose day the table lengthens, shortens or shifts."""
    season = program.tables[0].season
    for id, c in program.channels.items():
        if season is not None and id in season.channels and season.channels[id].days > 1:
            continue  # it stands for many dates: see PHO426
        planned, given = c.full_light_hours.reachable, c.full_light_hours.replay
        if abs(given - planned) <= max(WORTH_SHARE * planned, WORTH_HOURS):
            continue
        change = f"{(given / planned - 1) * 100:+.0f} %" if planned else "from nothing"
        yield Diagnostic(
            code=CODE,
            path=c.channel.origin,
            on_key=True,
            message=f"the table of '{id}' gives {number_text(given)} full-light hours a day, the"
            f" reachable plan {number_text(planned)} ({change})",
            help="a finer time or level step, more rows or gentler ramps bring them together",
        )
