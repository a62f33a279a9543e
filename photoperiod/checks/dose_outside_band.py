"""The dose of a zone is outside the band that it asks for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from photoperiod.checks.finding import on_value, others
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
    """The DLI of a zone on a date, that of its darkest place, and what each channel adds to the first.

    [mol m⁻² d⁻¹]
    """

    total: float
    least: float
    given: Mapping[str, float]
    when: str
    table: int


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
    for zone, side, worst in found:
        low, high = zone.dli_band or (0.0, 0.0)
        outside = low - worst.least if side == "below" else worst.total - high
        shares = sorted(((share, name) for name, share in worst.given.items()), reverse=True)
        listed = ", ".join(f"{name} {number_text(share)}" for share, name in shares[:4])
        also = others(_also(program, zone, side, worst), "in")
        unknown = unknown_in(zone, program.schedule.channels.values())
        if unknown:
            listed += f"; not known of {', '.join(unknown)}"
        yield on_value(
            "PHO405",
            (*zone.path, "dli"),
            f"zone '{zone.id}' gets a DLI of {_told(worst, side)} mol m⁻² d⁻¹{worst.when}, {side}"
            f" its band of {number_text(low)} to {number_text(high)} by {number_text(outside)}"
            f" (by channel: {listed}){also}",
        )


def _worst(program: Program, zone: Zone, band: tuple[float, float]) -> Iterator[tuple[str, _Dose]]:
    """Yield each side on which the dose is outside, with the dose that is farthest out."""
    doses = [dose for n, table in enumerate(program.tables) for dose in _doses(n, table, zone.id)]
    planned = [
        dose
        for n, table in enumerate(program.tables)
        if not program.is_lowered(table, zone.id)
        for dose in _doses(n, table, zone.id)
    ]
    least = min(planned or doses, key=lambda dose: dose.least)
    most = max(doses, key=lambda dose: dose.total)
    if most.total - min(dose.total for dose in doses) <= SAME_DOSE:
        least = most = replace(doses[0], when="")
    if planned and _is_outside(least, "below", band):
        yield "below", least
    if _is_outside(most, "above", band):
        yield "above", most


def _is_outside(dose: _Dose, side: str, band: tuple[float, float]) -> bool:
    """Return whether a dose is outside on one side; below a band counts the darkest place."""
    low, high = band
    return dose.least < low if side == "below" else dose.total > high


def _also(program: Program, zone: Zone, side: str, worst: _Dose) -> list[str]:
    """Return the first dates of other tables that are outside on the same side; none if all are alike."""
    if not worst.when or zone.dli_band is None:
        return []
    return [
        str(table.span.first)
        for n, table in enumerate(program.tables)
        if n != worst.table
        and table.span is not None
        and not (side == "below" and program.is_lowered(table, zone.id))
        and any(_is_outside(dose, side, zone.dli_band) for dose in _doses(n, table, zone.id))
    ]


def _told(dose: _Dose, side: str) -> str:
    """Return a dose in words; below a band with that of the darkest place, where it is another."""
    mean = number_text(dose.total)
    if side == "above" or dose.least == dose.total:
        return mean
    return f"{mean}, in its darkest place {number_text(dose.least)}"


def _doses(n: int, table: Table, zone_id: str) -> Iterator[_Dose]:
    """Yield the doses of a zone on the first and the last date of the table with a number."""
    z: ZoneDay = table.zones[zone_id]
    first = {c.channel.id: c.dli[zone_id].replay for c, _ in z.sources}
    last = {c.channel.id: first[c.channel.id] * c.fade for c, _ in z.sources}
    span = table.span
    on_first, on_last = "", " on the last of its dates"
    if span is not None:
        on_first, on_last = f" on {span.first}", f" on {span.last}"
    yield _Dose(total=z.dli.replay, least=z.dli_least, given=first, when=on_first, table=n)
    yield _Dose(total=z.dli_at_end, least=z.dli_least_at_end, given=last, when=on_last, table=n)
