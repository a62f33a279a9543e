"""The tubes that stood in a channel when PPFD was measured, as far as they are known."""

from collections.abc import Iterator, Sequence

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.model import Channel
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import Measured, lines_by_what_is_known, stood_on, worn_light
from photoperiod.text import number_text


def measured_tubes_not_told(program: Program) -> Iterator[Diagnostic]:
    """Yield findings for each channel whose tubes at the measurement are assumed, or not known.

    A place is of one of three kinds, each with its own finding: the tube there is not told and taken as
    worn out; it is not told and nothing can be taken; it is told, and its loss is not.
    """
    last = program.span.last if program.span else None
    found = lines_by_what_is_known(program.schedule, last)
    for channel in program.schedule.channels.values():
        assumed = [line for each, line in found[Measured.ASSUMED] if each is channel]
        unknown = [line for each, line in found[Measured.UNKNOWN] if each is channel]
        if channel.measured_on is None and not assumed:
            continue  # a note says so already (PHO324)
        without_loss = [line for line in unknown if _told_without_loss(channel, line)]
        not_told = [line for line in unknown if line not in without_loss]
        if assumed:
            lights = [worn_light(line) or 0.0 for line in assumed]
            share = number_text(min(lights) * 100, 1)
            taken = f"it is taken as worn out, at {share} % of its declared light"
            yield _not_told(channel, assumed, taken)
        if not_told:
            taken = "its loss is not declared, and the doses that new tubes give are not sure"
            yield _not_told(channel, not_told, taken)
        if without_loss:
            yield _without_loss(channel, without_loss)


def _told_without_loss(channel: Channel, line: Sequence[Tube]) -> list[Tube]:
    """Return the tubes of a place that are known to have stood there, and whose loss is not declared."""
    if channel.measured_on is None:
        return []
    return [tube for tube in stood_on(line, channel.measured_on) if tube.depreciation is None]


def _not_told(channel: Channel, lines: Sequence[Sequence[Tube]], taken: str) -> Diagnostic:
    return on_key(
        "PHO431",
        (*channel.path, "full_ppfd"),
        f"when PPFD of channel '{channel.id}' was measured, it is not told which tube stood in"
        f" {_places(lines)}: {taken}",
        help="declare the old tube with the same `place`, or measure again and write `measured_on`",
    )


def _without_loss(channel: Channel, lines: Sequence[Sequence[Tube]]) -> Diagnostic:
    tubes = [tube.id for line in lines for tube in _told_without_loss(channel, line)]
    names = ", ".join(f"'{id}'" for id in tubes)
    is_one = len(tubes) == 1
    return on_key(
        "PHO431",
        (*channel.path, "full_ppfd"),
        f"when PPFD of channel '{channel.id}' was measured, {'tube' if is_one else 'tubes'} {names} stood"
        f" in {_places(lines)}, and what {'it' if is_one else 'they'} had lost is not declared: the doses"
        " that new tubes give are not sure",
        help=f"write the `depreciation` of {'this tube' if is_one else 'these tubes'}, or measure again"
        " with the new ones and write `measured_on`",
    )


def _places(lines: Sequence[Sequence[Tube]]) -> str:
    names = ", ".join(f"'{line[0].place}'" for line in lines)
    return f"{'place' if len(lines) == 1 else 'places'} {names}"
