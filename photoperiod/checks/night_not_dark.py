"""A channel stays lit at night, because nothing can make its ballast dark."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.curves.curve import day_seconds
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def night_not_dark(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that can't go dark although its plan does."""
    for id, c in program.channels.items():
        if c.path.can_be_dark or (c.curve.light(day_seconds()) > 0).all():
            continue
        floor = number_text(c.channel.ballast.curve.floor_light * 100)
        yield on_value(
            "PHO403",
            (*c.channel.path, "ballast"),
            f"'{id}' is never dark: ballast '{c.channel.ballast.id}' holds {floor} % light all"
            " night (photoperiod 24 h, longest dark 0 h)",
            help="switch its mains by a relay, or accept `night-not-dark` by name",
        )
