"""The light of a zone rises faster than the zone allows."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text


def rises_too_fast(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose PPFD rises too far within a minute."""
    for id, z in program.zones.items():
        limit = z.zone.ppfd_rise_per_minute_max
        if limit is None or z.steepest_rise_per_minute <= limit + PPFD_SLACK:
            continue
        yield on_value(
            "PHO407",
            (*z.zone.path, "ppfd_rise_per_minute_max"),
            f"zone '{id}' rises by {number_text(z.steepest_rise_per_minute, 1)} µmol m⁻² s⁻¹"
            f" within the minute from {clock_text(z.steepest_second)}, more than"
            f" {number_text(limit)}",
            help="make the ramp longer, or let other channels light first",
        )
