"""Files of readings for tests, and what is marked in them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import LightMap, at_full_only
from photoperiod.readings.model import Readings
from photoperiod.readings.read_map import MapFile, Names, read_map
from photoperiod.readings.reader import read_readings

#: The columns of a small map.
HEAD = "x_cm,y_cm,depth_cm,channel,level_percent,ppfd_umol_m2_s,immersion_applied,immersion_factor"


def csv(*rows: str, head: str = HEAD, end: str = "\n") -> bytes:
    return "".join(line + end for line in (head, *rows)).encode()


def readings_of(*rows: str, head: str = HEAD, use: str = "map") -> Readings:
    """Return the readings of a file without a fault."""
    readings, faults = read_readings("x.csv", csv(*rows, head=head), use)
    assert not faults.has_errors, faults
    assert readings is not None
    return readings


def map_of(*rows: str, head: str = HEAD, names: Names | None = None) -> MapFile:
    return read_map("x.csv", csv(*rows, head=head), at_full_only, names)


def good_map(*rows: str, head: str = HEAD) -> LightMap:
    found = map_of(*rows, head=head)
    assert found.map is not None, found.faults
    return found.map


def told(faults: Faults | Sequence[Diagnostic], raw: bytes) -> list[tuple[str, int, str]]:
    """Return code, line and marked words of each finding."""
    lines = re.split(r"\r\n|\n|\r", raw.decode("utf-8-sig", errors="replace"))
    found = []
    for each in faults:
        at = each.source_range
        assert at is not None and at.line == at.end_line
        found.append((each.code, at.line, lines[at.line - 1][at.column - 1 : at.end_column - 1]))
    return found
