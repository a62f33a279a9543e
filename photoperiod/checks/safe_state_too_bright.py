"""The safe state gives a zone more light than its `ppfd_max`."""

from collections.abc import Iterator

import numpy as np

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import number_text


def safe_state_too_bright(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone over its limit; it marks the channel that gives it most."""
    light = {
        id: c.brightness * float(c.path.light(np.array([c.safe_count]), np.array([True]))[0])
        for id, c in program.channels.items()
        if c.channel.safe_light > 0
    }
    for id, z in program.zones.items():
        shares = {
            name: share * program.channels[name].channel.full_ppfd.get(id, 0.0)
            for name, share in light.items()
        }
        total = sum(shares.values())
        if z.zone.ppfd_max is None or total <= z.zone.ppfd_max + PPFD_SLACK:
            continue
        strongest = max(shares, key=lambda name: shares[name])
        yield on_value(
            "PHO427",
            (*program.channels[strongest].channel.origin, "safe_light_percent"),
            f"in the safe state zone '{id}' gets {number_text(total, 1)} µmol m⁻² s⁻¹, over"
            f" its limit of {number_text(z.zone.ppfd_max)}",
            help="a safe state lasts for hours, perhaps days: make it dark, or a few per cent",
        )
