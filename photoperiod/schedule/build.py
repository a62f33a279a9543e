"""From plain data of the right shape to a schedule: defaults, names, times, and errors of meaning.

A part that fails is None and is left out by whatever hangs on it, so that one mistake gives one
message.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.schedule.ballasts import lower_ballast, meet_ballasts
from photoperiod.schedule.controller import lower_controller
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings, attempt
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.parts import (
    check_clocks,
    check_uses,
    check_whole,
    lower_acceptances,
    lower_channel,
    lower_place,
    lower_seasons,
    lower_sky,
    lower_spread,
    lower_tube,
    lower_zone,
)
from photoperiod.source.document import Document

T = TypeVar("T")


def lower(
    source: Document, bad: set[Path], *, is_faulty: bool = False
) -> tuple[Schedule | None, list[Diagnostic]]:
    """Return the schedule, and what is wrong with its meaning.

    Parameters
    ----------
    source : Document
        Data whose shape has been checked.
    bad : set of Path
        Values that must not be used; whatever hangs on them is left out silently.
    is_faulty : bool
        True if errors were found before, which what seems unused may be a part of.

    Returns
    -------
    schedule : Schedule or None
        None if anything was bad.
    diagnostics : list of Diagnostic
        Without spans.
    """
    if not isinstance(source.data, dict) or () in bad:
        return None, []
    top = Cursor(source.data, (), frozenset(bad))
    complaints = Findings(top, is_faulty=is_faulty)
    schedule = attempt(lambda: _schedule(top, source.digest, complaints))
    failed = is_faulty or bool(bad) or complaints.has_errors
    return (None if failed else schedule), complaints


def _schedule(top: Cursor, digest: str, complaints: Findings) -> Schedule:
    place = attempt(lambda: lower_place(top, complaints) if top.has("place") else None)
    sky = attempt(lambda: lower_sky(top, place, complaints))
    seasons = attempt(lambda: lower_seasons(top, complaints))
    spread = attempt(lambda: lower_spread(top, complaints))
    controller = attempt(lambda: lower_controller(top, complaints))
    attempt(lambda: check_clocks(top, complaints))
    ballasts = _entries(top, "ballasts", lambda id, view: lower_ballast(id, view, complaints))
    tubes = _entries(top, "tubes", lambda id, view: lower_tube(id, view, complaints))
    zones = _entries(top, "zones", lambda id, view: lower_zone(id, view, complaints))
    if controller:
        meet_ballasts(controller, ballasts, complaints)
    channels = _entries(
        top, "channels", lambda id, view: lower_channel(id, view, ballasts, tubes, complaints)
    )
    acceptances = lower_acceptances(top, complaints)
    check_uses(complaints)
    check_whole(channels, zones, controller, complaints)
    parts = (*ballasts.values(), *tubes.values(), *zones.values(), *channels.values())
    if controller is None or seasons is None or None in parts:
        raise AlreadyReported
    return Schedule(
        title=top.text("title", "untitled schedule"),
        place=place,
        sky=sky,
        plan_clock=top.text("plan_clock", "standard"),
        spread_minutes=spread,
        seasons=seasons,
        controller=controller,
        ballasts=_present(ballasts),
        tubes=_present(tubes),
        zones=_present(zones),
        channels=_present(channels),
        burn_in=top.text("burn_in", "plan"),
        acceptances=acceptances,
        digest=digest,
    )


def _entries(top: Cursor, key: str, make: Callable[[str, Cursor], T]) -> dict[str, T | None]:
    """Return what is made of each entry of a mapping, None where that failed."""
    view = attempt(lambda: top.child_or_empty(key))
    if view is None:
        return {}
    made: dict[str, T | None] = dict.fromkeys(view.data)
    for id, child in view.items():
        try:
            made[id] = make(id, child)
        except AlreadyReported:
            continue
    return made


def _present(parts: dict[str, T | None]) -> dict[str, T]:
    return {id: part for id, part in parts.items() if part is not None}
