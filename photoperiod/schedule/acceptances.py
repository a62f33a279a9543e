"""Hard findings that the schedule accepts by name."""

from __future__ import annotations

from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import FileFindings
from photoperiod.schedule.model import Acceptance


def build_acceptances(top: Cursor, findings: FileFindings) -> tuple[Acceptance, ...]:
    """Return all acceptances in the order of the file; none if one of them is faulty."""
    try:
        return tuple(_acceptance(cursor, findings) for cursor in top.list("accept"))
    except AlreadyReported:
        return ()


def _acceptance(cursor: Cursor, findings: FileFindings) -> Acceptance:
    for key in ("channels", "zones"):
        for name, path in cursor.names(key):
            findings.knows(name, key, path)
    return Acceptance(
        finding=cursor.text("finding"),
        channels=frozenset(name for name, _ in cursor.names("channels")),
        zones=frozenset(name for name, _ in cursor.names("zones")),
        because=cursor.text("because"),
    )
