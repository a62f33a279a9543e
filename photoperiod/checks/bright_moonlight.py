"""The moonlight of a channel is bright enough to harm animals."""

from collections.abc import Iterator

import numpy as np

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S


def bright_moonlight(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose moonlight reaches 0.15 µmol m⁻² s⁻¹ in some zone.

    The finding names the zone that gets most. PPFD is that at which `full_ppfd` was measured.
    """
    for id, channel in program.schedule.channels.items():
        if channel.moonlight is None:
            continue
        path = program.channels[id].path
        wanted = np.array([channel.moonlight.light])
        light = float(channel.ballast.curve.reachable(wanted, path.most_light)[0])
        bright = {
            zone: light * ppfd
            for zone, ppfd in channel.limit_ppfd.items()
            if light * ppfd >= NIGHT_PPFD_UMOL_M2_S
        }
        if bright:
            zone, ppfd = max(bright.items(), key=lambda each: each[1])
            yield on_key(
                "PHO423",
                (*channel.path, "moonlight"),
                f"the moonlight of '{id}' gives zone '{zone}' up to {number_text(ppfd)}"
                f" µmol m⁻² s⁻¹; from {NIGHT_PPFD_UMOL_M2_S} on light can do harm at night, and the full"
                " moon itself gives less than 0.006",
                help="lower it, use fewer LEDs, or cover some of them",
            )
