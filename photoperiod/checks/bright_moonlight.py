"""Moonlight that is bright enough to do harm."""

from collections.abc import Iterator

import numpy as np

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S

CODE = "PHO423"
TITLE = "moonlight stays below the PPFD at which a night is no night"
NEEDS_DATES = False
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose moonlight is too bright in some zone."""
    for id, channel in program.schedule.channels.items():
        if channel.moonlight is None:
            continue
        path = program.channels[id].path
        wanted = np.array([channel.moonlight])
        light = float(channel.ballast.curve.reachable(wanted, path.most_light)[0])
        bright = {
            zone: light * ppfd
            for zone, ppfd in channel.full_ppfd.items()
            if light * ppfd >= NIGHT_PPFD_UMOL_M2_S
        }
        if bright:
            zone, ppfd = max(bright.items(), key=lambda each: each[1])
            yield Diagnostic(
                code=CODE,
                path=(*channel.origin, "moonlight"),
                on_key=True,
                message=f"the moonlight of '{id}' gives zone '{zone}' up to {number_text(ppfd)}"
                f" µmol m⁻² s⁻¹; from {NIGHT_PPFD_UMOL_M2_S} on a night is no night, and under the"
                " full moon it is below 0.006",
                help="lower it, light fewer LEDs, or screen them",
            )
