"""A daily dose outside the zone's band."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO405"
TITLE = "the DLI of each zone, from the finished table, is within its band"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose dose is too small or too large."""
    for id, z in program.zones.items():
        if z.zone.dli_band is None:
            continue
        low, high = z.zone.dli_band
        dose = z.dli.replay
        when = ""
        if low <= dose <= high and not low <= z.dli_at_end <= high:
            dose, when = z.dli_at_end, " at the end of its dates"
        if low <= dose <= high:
            continue
        side, bound = ("below", low) if dose < low else ("above", high)
        factor = number_text(bound / dose, 2) if dose > 0 else ""
        shares = sorted(
            ((c.dli[id].replay, name) for name, c in program.channels.items() if id in c.dli),
            reverse=True,
        )
        listed = ", ".join(f"{name} {number_text(share)}" for share, name in shares[:4])
        yield Diagnostic(
            code=CODE,
            path=(*z.zone.origin, "dli"),
            message=f"zone '{id}' gets a DLI of {number_text(dose)} mol m⁻² d⁻¹{when}, {side} its band of"
            f" {number_text(low)} to {number_text(high)} (by channel: {listed})",
            help=f"all light times {factor} would reach the band; change it slowly"
            if factor
            else "",
        )
