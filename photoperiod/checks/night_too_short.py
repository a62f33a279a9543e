"""The night of a zone is too short, or not dark enough."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S


def night_too_short(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose longest run below 0.15 µmol m⁻² s⁻¹ is too short."""
    for id, z in program.zones.items():
        wanted_s = z.zone.dark_hours_min * 3600
        if z.night_s >= wanted_s - 1e-6:
            continue
        darkest = int(z.ppfd.argmin())
        detail = ""
        if z.ppfd[darkest] >= NIGHT_PPFD_UMOL_M2_S:
            shares = z.shares_at(darkest)
            brightest = max(shares, key=lambda name: shares[name])
            detail = (
                f"; even when it is darkest, at {clock_text(darkest)}, it gets"
                f" {number_text(float(z.ppfd[darkest]))}, most of it from '{brightest}'"
            )
        yield on_key(
            "PHO408",
            z.zone.path,
            f"zone '{id}' is below {NIGHT_PPFD_UMOL_M2_S} µmol m⁻² s⁻¹ for"
            f" {hours_text(z.night_s)} at a stretch, less than"
            f" {number_text(z.zone.dark_hours_min)} h{detail}",
            help="shorten the day or lower the moonlight",
            gravity=-z.night_s,
        )
