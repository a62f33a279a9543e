"""Light that rises faster than the zone allows."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

CODE = "PHO407"
TITLE = "the PPFD of each zone rises no faster than it states"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose light rises too fast."""
    for id, z in program.zones.items():
        limit = z.zone.ppfd_rise_per_minute_max
        if limit is None or z.steepest_rise_per_minute <= limit + PPFD_SLACK:
            continue
        yield Diagnostic(
            code=CODE,
            path=(*z.zone.origin, "ppfd_rise_per_minute_max"),
            message=f"zone '{id}' rises by {number_text(z.steepest_rise_per_minute, 1)} µmol m⁻² s⁻¹"
            f" within the minute from {clock_text(z.steepest_second)}, more than"
            f" {number_text(limit)}",
            help="lengthen the ramp, or let other channels light first",
        )
