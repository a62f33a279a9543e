"""What doses are worth to photosynthesis, in lines of the summary."""

from __future__ import annotations

from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text
from photoperiod.units import SECONDS_PER_HOUR


def useful_light_lines(program: Program) -> list[str]:
    """Return a sentence for each zone that gives Ek, on its day by the first table."""
    lines = []
    for id, z in program.zones.items():
        useful, ek = z.useful_light, z.zone.ek_ppfd
        if useful is None or ek is None:
            continue
        if useful.begin_s is None or useful.end_s is None:
            when = "photosynthesis never has half of its most"
        else:
            begin, end = (clock_text(s - s % 60) for s in (useful.begin_s, useful.end_s))
            when = f"photosynthesis has at least half of its most from {begin} to {end}"
        lines.append(
            f"{id}: {when}; {hours_text(useful.hours_above_ek * SECONDS_PER_HOUR)} at Ek"
            f" ({number_text(ek)}) or above, {number_text(useful.share_above_ek * 100, 1)} % of the dose"
            f" is above it; worth {number_text(z.saturation_hours or 0.0)} h of the most"
        )
    return lines
