"""The light of a zone rises faster than the zone allows."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import Role, ZoneDay
from photoperiod.program.model import Program
from photoperiod.text import and_list, clock_text, number_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE


def rises_too_fast(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose PPFD rises too far within a minute."""
    for id, z in program.zones.items():
        limit = z.zone.ppfd_rise_per_minute_max
        if limit is None or z.steepest_rise_per_minute <= limit + PPFD_SLACK:
            continue
        full = _burning_in(z)
        found = on_value(
            "PHO407",
            (*z.zone.path, "ppfd_rise_per_minute_max"),
            f"zone '{id}' rises by {number_text(z.steepest_rise_per_minute, 1)} µmol m⁻² s⁻¹"
            f" within the minute from {clock_text(z.steepest_second)}, more than"
            f" {number_text(limit)}",
            help=_way_out(full),
            gravity=z.steepest_rise_per_minute,
        )
        # told apart: on other dates a ramp may be too steep, and that has another way out
        yield replace(found, variant="burns-in") if full else found


def _burning_in(zone: ZoneDay) -> list[str]:
    """Return the channels that burn in and make the steepest rise, each in quotes."""
    begin, end = zone.steepest_second, (zone.steepest_second + SECONDS_PER_MINUTE) % SECONDS_PER_DAY
    return [
        f"'{c.channel.id}'"
        for c, _ in zone.limit_sources
        if c.role is Role.FULL and c.replay.light[end] > c.replay.light[begin]
    ]


def _way_out(full: Sequence[str]) -> str:
    """Return what to do: a channel that burns in is dark or full, and no ramp of it can be made longer."""
    if not full:
        return "make the ramp longer, or let other channels light first"
    burn = "burns" if len(full) == 1 else "burn"
    return (
        f"{and_list(full)} {burn} in undimmed, so the light comes at once and no ramp softens it; shade the"
        " zone for those days, allow more if the animals bear it, burn the tubes in elsewhere and enter the"
        " hours, or write `burn_in: leave`: then the plan's ramps stay, and dim the new tubes"
    )
