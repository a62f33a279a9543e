"""The safe state gives a zone more light than its `ppfd_max`."""

from collections.abc import Iterator

import numpy as np

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK, zone_ppfd
from photoperiod.program.model import Program
from photoperiod.text import number_text


def safe_state_too_bright(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone over its limit; it marks the channel that gives it most."""
    light = {
        id: float(c.path.light(np.array([c.safe_count]), np.array([True]))[0])
        for id, c in program.channels.items()
        if c.channel.safe_light > 0
    }
    for id, z in program.zones.items():
        sources = {
            c.channel.id: (full_ppfd, light[c.channel.id])
            for c, full_ppfd in z.limit_sources
            if c.channel.id in light
        }
        total = zone_ppfd(sources.values(), 0.0)
        if z.zone.ppfd_max is None or total <= z.zone.ppfd_max + PPFD_SLACK:
            continue
        strongest = max(sources, key=lambda name: zone_ppfd([sources[name]], 0.0))
        yield on_value(
            "PHO427",
            (*program.channels[strongest].channel.path, "safe_light_percent"),
            f"in the safe state zone '{id}' gets {number_text(total, 1)} µmol m⁻² s⁻¹, over"
            f" its limit of {number_text(z.zone.ppfd_max)}",
            help="a safe state lasts for hours, perhaps days: make it dark, or a few per cent",
            gravity=total,
        )
