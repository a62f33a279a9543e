"""What was found for the doses that zones ask for, as JSON: in the summary, and alone by `solve`."""

from __future__ import annotations

from typing import Any

from photoperiod.formats.row_text import header, rounded
from photoperiod.program.model import Program
from photoperiod.schedule.found_text import lines_to_paste
from photoperiod.schedule.moves import Found


def solve_data(program: Program) -> dict[str, Any]:
    """Return what `photoperiod solve` finds, as ``schemas/solve.schema.json`` describes it.

    Parameters
    ----------
    program : Program
        Of a schedule that asks for doses.
    """
    found = program.schedule.found
    assert found is not None, "some zone asks for a dose"
    return header(program, "solve") | found_data(found)


def found_data(found: Found) -> dict[str, Any]:
    """Return what was found for the doses that are asked for."""
    return {
        "doses": [
            {
                "zone": each.zone,
                "wanted_mol_m2_d": list(each.wanted),
                "within_mol_m2_d": rounded(each.within, 6),
                "dli_mol_m2_d": rounded(each.dose, 6),
            }
            for each in found.doses
        ],
        "days": [
            {
                "channel": each.channel,
                "peak_light_percent": {
                    "file": rounded(max(p.light for p in each.asked.peaks) * 100, 4),
                    "found": rounded(max(p.light for p in each.found.peaks) * 100, 4),
                },
            }
            for each in found.days
        ],
        "rows_moved": {each.channel: each.count for each in found.rows},
        "lines_to_paste": lines_to_paste(found),
    }
