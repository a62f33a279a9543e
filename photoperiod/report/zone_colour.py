"""The colour of the light of zones, in lines of the summary."""

from __future__ import annotations

from photoperiod.program.model import Program
from photoperiod.program.zone_colour import zone_colour
from photoperiod.text import and_list, number_text, safe


def zone_colour_lines(program: Program) -> list[str]:
    """Return a sentence for each zone of which something is known, on its day by the first table."""
    lines, is_weighed = [], False
    for id in program.schedule.zones:
        colour = zone_colour(program.tables[0], id)
        if colour is None:
            continue
        if colour.unknown:
            lines.append(
                f"{id}: its colours are not known, because {and_list(colour.unknown)}"
                f" {'has' if len(colour.unknown) == 1 else 'have'} no `spectrum`"
            )
        elif colour.thirds is not None:
            blue, green, red = (number_text(share * 100, 1) for share in colour.thirds)
            line = f"{id}: {blue} % of its photons at 400-500 nm, {green} % at 500-600, {red} % at 600-700"
            if colour.usable is not None:
                is_weighed = True
                line += f"; {number_text(colour.usable * 100, 1)} % usable"
            lines.append(line)
    if is_weighed:
        lines.append(f"Usable: by the action spectrum of {safe(program.schedule.action_spectrum)}")
    return lines
