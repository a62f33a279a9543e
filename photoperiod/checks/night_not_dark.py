"""A night that can't be dark."""

from collections.abc import Iterator

from photoperiod.curves.curve import day_seconds
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO403"
TITLE = "every channel is dark where its plan is dark"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that stays lit although its plan has darkness."""
    for id, c in program.channels.items():
        if c.path.can_be_dark or (c.curve.light(day_seconds()) > 0).all():
            continue
        floor = number_text(c.channel.ballast.curve.floor_light * 100)
        yield Diagnostic(
            code=CODE,
            path=(*c.channel.origin, "ballast"),
            message=f"'{id}' is never dark: ballast '{c.channel.ballast.id}' holds {floor} % light all"
            " night (photoperiod 24 h, longest dark 0 h)",
            help="switch its mains by a relay, or accept `night-not-dark` by name",
        )
