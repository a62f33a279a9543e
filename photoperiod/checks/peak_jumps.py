"""The peak of a zone rises too far from one date to the next."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text


def peak_jumps(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone, at the first table that lifts its peak too far.

    A table is held against the last date of the one before: its tubes have faded by then. The first
    is held against the last date of the ledger, or, if there is none, against a day by the plan in
    light as it was measured.
    """
    for id, zone in program.schedule.zones.items():
        by_plan = program.first_day_by_plan.zones[id].peak_ppfd
        before = program.peaks_before.get(id, by_plan)
        for table in program.tables:
            z = table.zones[id]
            if before > 0 and z.peak_ppfd > before * (1 + zone.peak_rise_max) and table.span:
                yield on_key(
                    "PHO420",
                    zone.path,
                    f"the peak of zone '{id}' rises on {table.span.first} from"
                    f" {number_text(before, 1)} to {number_text(z.peak_ppfd, 1)} µmol m⁻² s⁻¹ at"
                    f" {clock_text(z.peak_second)}, by more than {number_text(zone.peak_rise_max * 100)} %"
                    f"{_measured_anew(program, id) if table is program.tables[0] else ''}",
                    help="shade the zone for those days, raise the lamps, or burn the tubes in elsewhere"
                    " and enter `lit_hours`",
                )
                break
            before = z.peak_ppfd_at_end


def _measured_anew(program: Program, zone: str) -> str:
    """Return that a rise since the ledger may be one of readings, empty if nothing was measured anew."""
    channels = program.schedule.channels
    ids = [id for id in program.measured_anew if channels[id].full_ppfd.get(zone)]
    if not ids:
        return ""
    names = ", ".join(f"'{id}'" for id in ids)
    return (
        f"; PPFD of {'channel' if len(ids) == 1 else 'channels'} {names} was measured anew since then, so"
        " the reading may have risen, and not the light"
    )
