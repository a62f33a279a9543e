"""Light on dates before the first tube that the file names for a place is fitted."""

import datetime as dt
from collections.abc import Iterator, Sequence

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import worn_light
from photoperiod.text import and_list, number_text


def older_tubes_assumed(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that is lit while no named tube stands in one of its places."""
    for channel in program.schedule.channels.values():
        lit = (
            table.span.first
            for table in program.tables
            if table.span and table.channels[channel.id].lit_seconds
        )
        first = next(lit, dt.date.max)
        empty = [line for line in channel.places if _begins_after(line, first)]
        if empty:
            until = and_list(
                [f"place '{line[0].place}' until {_moment(line[0])}" for line in empty]
            )
            lights = {worn_light(line) for line in empty}
            yield on_key(
                "PHO451",
                (*channel.path, "tubes"),
                f"older tubes are taken to burn in channel '{channel.id}', in {until}: {_taken(lights)}",
                help="name each old tube, with the same `place`; if nothing burns there yet, make the channel"
                " dark until then (`changes: [{kind: dark-days, …}]`)",
            )


def _begins_after(line: Sequence[Tube], date: dt.date) -> bool:
    return line[0].fitted is not None and line[0].fitted.date() > date


def _moment(tube: Tube) -> str:
    return f"{tube.fitted:%Y-%m-%d %H:%M}" if tube.fitted else ""


def _taken(lights: set[float | None]) -> str:
    """Return which light the tubes that are not named are taken to give."""
    told = sorted(light for light in lights if light is not None)
    if len(told) < len(lights):
        return "what they had lost is not known, so that they count like the tubes that are named"
    shares = " or ".join(number_text(light * 100, 1) for light in told)
    return f"they count as worn out, at {shares} % of their declared light"
