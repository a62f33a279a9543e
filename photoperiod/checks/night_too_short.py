"""A night that is too short or not dark enough."""

from collections.abc import Iterator

import numpy as np

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S

CODE = "PHO408"
TITLE = "each zone has an unbroken night below 0.15 µmol m⁻² s⁻¹"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose night is too short."""
    for id, z in program.zones.items():
        wanted_s = z.zone.dark_hours_min * 3600
        if z.night_s >= wanted_s - 1e-6:
            continue
        darkest = int(z.ppfd.argmin())
        given = {
            name: float(c.replay.light[darkest] * c.channel.full_ppfd.get(id, 0.0))
            for name, c in program.channels.items()
        }
        brightest = max(given, key=lambda name: given[name])
        detail = ""
        if z.ppfd[darkest] >= NIGHT_PPFD_UMOL_M2_S:
            detail = (
                f"; even at its darkest, {clock_text(darkest)}, it gets"
                f" {number_text(float(np.min(z.ppfd)))}, most of it from '{brightest}'"
            )
        yield Diagnostic(
            code=CODE,
            path=z.zone.origin,
            on_key=True,
            message=f"zone '{id}' is below {NIGHT_PPFD_UMOL_M2_S} µmol m⁻² s⁻¹ for"
            f" {hours_text(z.night_s)} at a stretch, less than"
            f" {number_text(z.zone.dark_hours_min)} h{detail}",
            help="shorten the day or lower the moonlight",
        )
