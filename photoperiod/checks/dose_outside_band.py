"""The dose of a zone is outside the band that it asks for."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.guards import unknown_in
from photoperiod.text import number_text


def dose_outside_band(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose DLI, from the finished table, is outside its band.

    The DLI is checked on the first date and, if that is within, on the last: tubes fade.
    """
    for id, z in program.zones.items():
        if z.zone.dli_band is None:
            continue
        low, high = z.zone.dli_band
        given = {c.channel.id: c.dli[id].replay for c, _ in z.sources}
        dose, when = z.dli.replay, ""
        if low <= dose <= high:
            dose, when = z.dli_at_end, " on the last of its dates"
            given = {
                c.channel.id: given[c.channel.id] * c.brightness_at_end / c.brightness
                for c, _ in z.sources
            }
        if low <= dose <= high:
            continue
        side, bound = ("below", low) if dose < low else ("above", high)
        factor = number_text(bound / dose, 2) if dose > 0 else ""
        shares = sorted(((share, name) for name, share in given.items()), reverse=True)
        listed = ", ".join(f"{name} {number_text(share)}" for share, name in shares[:4])
        unknown = unknown_in(z.zone, program.schedule.channels.values())
        if unknown:
            listed += f"; not known of {', '.join(unknown)}"
        yield on_value(
            "PHO405",
            (*z.zone.path, "dli"),
            f"zone '{id}' gets a DLI of {number_text(dose)} mol m⁻² d⁻¹{when}, {side} its band of"
            f" {number_text(low)} to {number_text(high)} (by channel: {listed})",
            help=f"multiply all light by {factor} to reach the band; change it slowly"
            if factor
            else "",
        )
