"""The moonlight of a channel is bright enough to harm animals."""

from collections.abc import Iterator

import numpy as np

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S

#: So many decimals tell what is far below 0.15 µmol m⁻² s⁻¹.
DECIMALS = 3


def bright_moonlight(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose moonlight reaches 0.15 µmol m⁻² s⁻¹ in some zone.

    The finding names the zone that gets most. PPFD is that at which `full_ppfd` was measured. It is about the
    plan: the next full moon comes, though the tables of these dates may have none.
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
            moon = " under a full moon" if channel.moonlight.follows_moon else ""
            yield on_key(
                "PHO423",
                (*channel.path, "moonlight"),
                f"the moonlight of '{id}' gives zone '{zone}' up to {number_text(ppfd)}"
                f" µmol m⁻² s⁻¹{moon}{_dimmer_words(program, id, zone)}; from {NIGHT_PPFD_UMOL_M2_S} on"
                " light can do harm at night, and the full moon itself gives less than 0.006",
                help="lower it, use fewer LEDs, or cover some of them",
            )


def _dimmer_words(program: Program, id: str, zone: str) -> str:
    """Return how little the tables of a channel of moonlight alone give; empty if they may do harm."""
    channel = program.schedule.channels[id]
    if program.span is None or channel.day is not None:
        return ""
    most = max(float(table.channels[id].replay.light.max()) for table in program.tables)
    ppfd = most * channel.limit_ppfd[zone]
    if ppfd >= NIGHT_PPFD_UMOL_M2_S:
        return ""
    return f" (the tables of these dates give at most {number_text(ppfd, DECIMALS)})"
