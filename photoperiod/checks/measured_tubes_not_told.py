"""The tubes that stood in a channel when PPFD was measured, as far as they are known."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.tube_places import Measured, lines_by_what_is_known, worn_light
from photoperiod.text import number_text


def measured_tubes_not_told(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose tubes at the measurement are assumed, or not known."""
    last = program.span.last if program.span else None
    found = lines_by_what_is_known(program.schedule, last)
    for channel in program.schedule.channels.values():
        assumed = [line for each, line in found[Measured.ASSUMED] if each is channel]
        unknown = [line for each, line in found[Measured.UNKNOWN] if each is channel]
        if channel.measured_on is None and not assumed:
            continue  # a note says so already (PHO324)
        if not assumed and not unknown:
            continue
        what = "place" if len(assumed or unknown) == 1 else "places"
        places = ", ".join(f"'{line[0].place}'" for line in assumed or unknown)
        if assumed:
            lights = [worn_light(line) or 0.0 for line in assumed]
            share = number_text(min(lights) * 100, 1)
            taken = f"it is taken as worn out, at {share} % of its declared light"
        else:
            taken = "its loss is not declared, and the doses that new tubes give are not sure"
        yield on_key(
            "PHO431",
            (*channel.path, "full_ppfd"),
            f"when PPFD of channel '{channel.id}' was measured, it is not told which tube stood in"
            f" {what} {places}: {taken}",
            help="declare the old tube with the same `place`, or measure again and write `measured_on`",
        )
