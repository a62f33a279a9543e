"""From plain data of the right shape to a schedule: defaults, names, times, and errors of meaning.

A part with a fault is None, and whatever needs it is left out too. So one mistake gives one message.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.schedule.acceptances import build_acceptances
from photoperiod.schedule.ballasts import build_ballast, meet_ballasts
from photoperiod.schedule.change_reader import build_changes, build_day_plans
from photoperiod.schedule.change_rules import check_changes
from photoperiod.schedule.channels import build_channel, check_uses, check_whole
from photoperiod.schedule.controller import build_controller
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.doubts import ask_about_units
from photoperiod.schedule.findings import FileFindings, attempt
from photoperiod.schedule.full_ppfd import LightMaps
from photoperiod.schedule.model import BurnInPolicy, LoadedBy, Schedule
from photoperiod.schedule.move_rules import check_moves
from photoperiod.schedule.place import (
    build_dated_tables,
    build_place,
    build_sky,
    build_spread,
    check_clocks,
    plan_clock,
)
from photoperiod.schedule.prices import build_costs, check_prices
from photoperiod.schedule.readings_files import FileBytes, ReadingsFiles
from photoperiod.schedule.spectra import check_action_spectrum, read_spectra
from photoperiod.schedule.tubes import build_tube
from photoperiod.schedule.zones import build_zone
from photoperiod.source.document import Document

T = TypeVar("T")


def build_schedule(
    source: Document,
    bad: set[Path],
    *,
    is_faulty: bool = False,
    files: Mapping[str, FileBytes] | None = None,
) -> tuple[Schedule | None, list[Diagnostic]]:
    """Return the schedule, and what is wrong with its meaning.

    Parameters
    ----------
    source : Document
        Data whose shape has been checked.
    bad : set of Path
        Faulty values, which have been reported; whatever needs them is left out silently.
    is_faulty : bool
        True if an earlier stage found errors.
    files : mapping of str to bytes or str, or None
        The files of readings that the schedule names, or why one can't be read.

    Returns
    -------
    schedule : Schedule or None
        None if there is any fault.
    diagnostics : list of Diagnostic
        Their places in the source are not filled in yet.
    """
    if not isinstance(source.data, dict) or () in bad:
        return None, []
    top = Cursor(source.data, (), frozenset(bad))
    findings = FileFindings(top, is_faulty=is_faulty)
    schedule = attempt(lambda: _schedule(top, source, files or {}, findings))
    failed = is_faulty or bool(bad) or findings.has_errors
    return (None if failed else schedule), findings


def _schedule(
    top: Cursor, source: Document, files: Mapping[str, FileBytes], findings: FileFindings
) -> Schedule:
    place = attempt(lambda: build_place(top, findings) if top.has("place") else None)
    sky = attempt(lambda: build_sky(top, place, findings))
    dated_tables = attempt(lambda: build_dated_tables(top, findings))
    spread = attempt(lambda: build_spread(top, findings))
    controller = attempt(lambda: build_controller(top, findings))
    attempt(lambda: check_clocks(top, findings))
    beside = ReadingsFiles(files, findings)
    ballasts = _entries(
        top, "ballasts", lambda id, cursor: build_ballast(id, cursor, beside, findings)
    )
    tubes = _entries(top, "tubes", lambda id, cursor: build_tube(id, cursor, beside, findings))
    costs = attempt(lambda: build_costs(top, findings))
    if not top.has("costs") or costs is not None:
        check_prices(costs, tubes, findings)
    zones = _entries(top, "zones", lambda id, cursor: build_zone(id, cursor, findings))
    if controller:
        meet_ballasts(controller, ballasts, findings)
    maps = LightMaps(beside, ballasts, findings)
    spectra = read_spectra(top, beside, findings)
    if top.has("action_spectrum"):
        attempt(spectra.action)
    channels = _entries(
        top,
        "channels",
        lambda id, cursor: build_channel(
            id, cursor, ballasts, tubes, zones, maps, spectra, findings
        ),
    )
    check_action_spectrum(top, channels.values(), findings)
    acceptances = build_acceptances(top, findings)
    day_plans = attempt(lambda: build_day_plans(top, findings))
    changes = attempt(
        lambda: build_changes(
            top,
            _present(channels),
            day_plans or {},
            LoadedBy.HAND if controller is None else controller.loaded_by,
            findings,
        )
    )
    check_uses(findings)
    check_whole(channels, zones, controller, findings)
    ask_about_units(_present(ballasts).values(), _present(channels).values(), findings)
    parts = (*ballasts.values(), *tubes.values(), *zones.values(), *channels.values())
    if controller is None or dated_tables is None or day_plans is None or changes is None:
        raise AlreadyReported
    if None in parts:
        raise AlreadyReported
    schedule = Schedule(
        tank=top.text("tank"),
        title=top.text("title", top.text("tank")),
        place=place,
        sky=sky,
        plan_clock=plan_clock(top),
        spread_minutes=spread,
        dated_tables=dated_tables,
        controller=controller,
        ballasts=_present(ballasts),
        tubes=_present(tubes),
        zones=_present(zones),
        channels=_present(channels),
        costs=costs,
        burn_in=top.kind("burn_in", BurnInPolicy, BurnInPolicy.PLAN),
        acceptances=acceptances,
        action_spectrum=top.child_or_empty("action_spectrum").text("source"),
        day_plans=day_plans,
        changes=changes,
        file_digest=source.digest,
        parts_digests={} if source.parts is None else {source.parts.name: source.parts.digest},
        readings_digests=beside.digests,
    )
    if not findings.has_errors:
        check_moves(schedule.channels, schedule.zones, schedule.follows_sky, findings)
        step_s = controller.times.step_s
        check_changes(schedule.changes, schedule.channels, schedule.day_plans, step_s, findings)
    return schedule


def _entries(top: Cursor, key: str, make: Callable[[str, Cursor], T]) -> dict[str, T | None]:
    """Return what is made of each entry of a mapping; None for an entry with a fault."""
    cursor = attempt(lambda: top.child_or_empty(key))
    if cursor is None:
        return {}
    made: dict[str, T | None] = dict.fromkeys(cursor.data)
    for id, child in cursor.items():
        try:
            made[id] = make(id, child)
        except AlreadyReported:
            continue
    return made


def _present(parts: dict[str, T | None]) -> dict[str, T]:
    return {id: part for id, part in parts.items() if part is not None}
