"""The dose of a zone is outside the band that it asks for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from photoperiod.checks.dose_advice import dose_advice
from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ZoneDay
from photoperiod.program.model import Program, Table
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Zone
from photoperiod.text import number_text

#: Doses that differ by less are the same, and no date is told [mol m⁻² d⁻¹].
SAME_DOSE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dose:
    """The DLI of a zone on a date, and what each channel adds to it. [mol m⁻² d⁻¹]"""

    total: float
    given: Mapping[str, float]
    when: str


def dose_outside_band(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone and side of its band, for the date that is farthest outside.

    The DLI is checked on the first and the last date of each table: tubes fade.
    """
    found = [
        (zone, side, worst)
        for zone in program.schedule.zones.values()
        if zone.dli_band is not None
        for side, worst in _worst(program, zone, zone.dli_band)
    ]
    advice = dose_advice(program) if found else ""
    for zone, side, worst in found:
        low, high = zone.dli_band or (0.0, 0.0)
        shares = sorted(((share, name) for name, share in worst.given.items()), reverse=True)
        listed = ", ".join(f"{name} {number_text(share)}" for share, name in shares[:4])
        unknown = unknown_in(zone, program.schedule.channels.values())
        if unknown:
            listed += f"; not known of {', '.join(unknown)}"
        yield on_value(
            "PHO405",
            (*zone.path, "dli"),
            f"zone '{zone.id}' gets a DLI of {number_text(worst.total)} mol m⁻² d⁻¹{worst.when}, {side}"
            f" its band of {number_text(low)} to {number_text(high)} (by channel: {listed})",
            help=advice,
        )


def _worst(program: Program, zone: Zone, band: tuple[float, float]) -> Iterator[tuple[str, _Dose]]:
    """Yield each side on which the dose is outside, with the dose that is farthest out."""
    low, high = band
    doses = [dose for table in program.tables for dose in _doses(program, table, zone.id)]
    least = min(doses, key=lambda dose: dose.total)
    most = max(doses, key=lambda dose: dose.total)
    if most.total - least.total <= SAME_DOSE:
        least = most = replace(doses[0], when="")
    if least.total < low:
        yield "below", least
    if most.total > high:
        yield "above", most


def _doses(program: Program, table: Table, zone_id: str) -> Iterator[_Dose]:
    """Yield the doses of a zone on the first and the last date of a table."""
    z: ZoneDay = table.zones[zone_id]
    first = {c.channel.id: c.dli[zone_id].replay for c, _ in z.sources}
    last = {
        c.channel.id: first[c.channel.id] * c.brightness_at_end / c.brightness for c, _ in z.sources
    }
    span = table.span
    on_first, on_last = "", " on the last of its dates"
    if span is not None:
        on_first, on_last = f" on {span.first}", f" on {span.last}"
    yield _Dose(total=z.dli.replay, given=first, when=on_first)
    yield _Dose(total=z.dli_at_end, given=last, when=on_last)
