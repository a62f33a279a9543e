"""A channel can't show the moon on some nights, or shows one that is not there."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def moon_seldom_shown(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose moonlight differs from the moon on some dates."""
    for id, (shown, nights, extra) in program.moon_nights.items():
        channel = program.schedule.channels[id]
        if shown == nights and not extra:
            continue
        floor = number_text(channel.ballast.curve.floor_light * 100)
        shares = any(t.season and t.season.channels[id].days > 1 for t in program.tables
                     if t.season and id in t.season.channels)  # fmt: skip
        yield on_key(
            "PHO424",
            (*channel.path, "moonlight"),
            f"'{id}' shows half of the moon's light or more on {shown} of {nights} dates that have a moon"
            + (f", and light on {extra} that have none" if extra else "")
            + f"; the least light that its ballast holds is {floor} %"
            + (
                ", and a table for several dates is dark at any time at which one of them is"
                if shares
                else ""
            ),
            help=(
                "a channel that follows the moon needs one table a night: allow more, or use steady moonlight"
                if shares and program.schedule.dated_tables.of(channel).tables
                else "use fewer LEDs and run them brighter: then the floor is less beside the full moon"
            ),
        )
