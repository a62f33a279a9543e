"""A moon that the channel can't show on most nights."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO424"
TITLE = "a moon by phase is bright enough for its ballast on most nights"
NEEDS_DATES = True
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that is dark on nights that have a moon."""
    for id, (shown, nights, extra) in program.moon_nights.items():
        channel = program.schedule.channels[id]
        if shown == nights and not extra:
            continue
        floor = number_text(channel.ballast.curve.floor_light * 100)
        shares = any(t.season and t.season.channels[id].days > 1 for t in program.tables
                     if t.season and id in t.season.channels)  # fmt: skip
        yield Diagnostic(
            code=CODE,
            path=(*channel.origin, "moonlight"),
            on_key=True,
            message=f"'{id}' shows the moon on {shown} of {nights} dates that have one"
            + (f", and on {extra} that have none" if extra else "")
            + f": its ballast holds no less than {floor} %"
            + (
                ", and a table that stands for several dates is dark where one of them is"
                if shares
                else ""
            ),
            help=(
                "a moon that is followed needs a table a night: allow more, or let it be steady"
                if shares and program.schedule.seasons.tables
                else "a dimmer full moon needs a lower floor: fewer LEDs, run brighter, show more nights"
            ),
        )
