"""The dose of a zone is outside the band that it asks for."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ZoneDay
from photoperiod.program.model import Program
from photoperiod.schedule.guards import unknown_in
from photoperiod.text import number_text


def dose_outside_band(program: Program) -> Iterator[Diagnostic]:
    """Yield findings for each zone whose DLI, from the finished table, is outside its band.

    The DLI is checked on the first date and on the last: tubes fade. Where it is on the same side of
    the band on both, the first is told; a zone that goes from one side to the other has two findings.
    """
    for z in program.zones.values():
        if z.zone.dli_band is None:
            continue
        at_begin = {c.channel.id: c.dli[z.zone.id].replay for c, _ in z.sources}
        at_end = {
            c.channel.id: at_begin[c.channel.id] * c.brightness_at_end / c.brightness
            for c, _ in z.sources
        }
        told = set()
        for dose, given, when in (
            (z.dli.replay, at_begin, ""),
            (z.dli_at_end, at_end, " on the last of its dates"),
        ):
            side = _side(dose, z.zone.dli_band)
            if side and side not in told:
                told.add(side)
                yield _finding(program, z, dose, given, when, side)


def _side(dose: float, band: tuple[float, float]) -> str:
    """Return on which side of a band a dose is; empty within."""
    low, high = band
    return "below" if dose < low else "above" if dose > high else ""


def _finding(
    program: Program, z: ZoneDay, dose: float, given: Mapping[str, float], when: str, side: str
) -> Diagnostic:
    assert z.zone.dli_band is not None
    low, high = z.zone.dli_band
    factor = number_text((low if side == "below" else high) / dose, 2) if dose > 0 else ""
    shares = sorted(((share, name) for name, share in given.items()), reverse=True)
    listed = ", ".join(f"{name} {number_text(share)}" for share, name in shares[:4])
    unknown = unknown_in(z.zone, program.schedule.channels.values())
    if unknown:
        listed += f"; not known of {', '.join(unknown)}"
    return replace(
        on_value(
            "PHO405",
            (*z.zone.path, "dli"),
            f"zone '{z.zone.id}' gets a DLI of {number_text(dose)} mol m⁻² d⁻¹{when}, {side} its"
            f" band of {number_text(low)} to {number_text(high)} (by channel: {listed})",
            help=f"multiply all light by {factor} to reach the band; change it slowly"
            if factor
            else "",
        ),
        variant=side,
    )
