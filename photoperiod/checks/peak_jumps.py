"""The peak of a zone rises too far from one date to the next."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import full_ppfd_now, zone_ppfd
from photoperiod.program.day_before import peak_jumps_of, way_to_rise
from photoperiod.program.model import Program
from photoperiod.schedule.model import Zone
from photoperiod.text import clock_text, number_text
from photoperiod.units import SECONDS_PER_DAY


def peak_jumps(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose peak rises too far, with every date on which it does.

    A table is held against the last date of the one before: its tubes have faded by then. The first
    is held against the last date of the ledger, or, if there is none, against a day by the plan in
    light as it was measured.
    """
    for id, zone in program.schedule.zones.items():
        found = list(peak_jumps_of(program, zone))
        is_told = bool(found) and program.span is not None and found[0].date == program.span.first
        if not is_told:
            yield from _hidden(program, zone)
        if not found:
            continue
        jump = found[0]
        is_first = program.span is not None and jump.date == program.span.first
        later = [f"{each.date} ({each.words})" for each in found[1:]]
        unit = "µmol m⁻² s⁻¹ at"
        yield on_key(
            "PHO420",
            zone.path,
            f"the peak of zone '{id}' rises on {jump.date} {jump.words} {unit}"
            f" {clock_text(jump.zone.peak_second)}, by more than {number_text(zone.peak_rise_max * 100)} %"
            f"{_measured_anew(program, id) if is_first else ''}{others(later)}",
            help=_way_out(program),
        )


def _hidden(program: Program, zone: Zone) -> Iterator[Diagnostic]:
    """Yield a finding if readings that fell since the ledger may hide a rise on the first date."""
    last, table = program.before.get(zone.id), program.tables[0]
    before = last.peak_ppfd if last else 0.0
    fallen, sources = [], []
    for id, c in table.channels.items():
        now = c.channel.full_ppfd.get(zone.id, 0.0)
        was = program.measured_anew.get(id, {}).get(zone.id, 0.0)
        if not now:
            continue
        full = full_ppfd_now(c.channel.limit_ppfd[zone.id], c.brightness)
        if was > now:
            fallen.append(f"of '{id}' was {number_text(was, 1)} and is {number_text(now, 1)}")
            full *= was / now
        sources.append((full, c.replay.light))
    if not fallen or not before or table.span is None:
        return
    ppfd = zone_ppfd(sources, np.zeros(SECONDS_PER_DAY))
    second = int(ppfd.argmax())
    if ppfd[second] > before * (1 + zone.peak_rise_max):
        found = on_key(
            "PHO420",
            zone.path,
            f"the peak of zone '{zone.id}' may rise on {table.span.first}"
            f" {_rise(before, float(ppfd[second]))} µmol m⁻² s⁻¹ at {clock_text(second)}, by more than"
            f" {number_text(zone.peak_rise_max * 100)} %: PPFD at full {'; '.join(fallen)}. If only the"
            " reading has fallen, and not the light, animals get that much",
            help="measure again at the same place, sensor and cover clean; if tubes have faded so far, raise"
            " the light in steps all the same",
        )
        yield replace(found, variant="may")


def _rise(before: float, after: float) -> str:
    return f"from {number_text(before, 1)} to {number_text(after, 1)}"


def _way_out(program: Program) -> str:
    """Return what can be done: burning in elsewhere helps only where tubes burn in here."""
    if any(table.plan.windows for table in program.tables):
        return (
            "shade the zone for those days, raise the lamps, or burn the tubes in elsewhere and enter"
            " `lit_hours`"
        )
    return f"{way_to_rise(program)}; or shade the zone, or raise the lamps"


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
