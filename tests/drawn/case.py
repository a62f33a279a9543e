"""What was written of a schedule, read back by readers of its own, and the tolerances of all laws."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from photoperiod.arrays import Bools, Floats, Ints
from tests.drawn import readers
from tests.drawn.compiled import Written
from tests.drawn.plain_light import PlainPath
from tests.drawn.readers import PlainRow

#: Doses and hours are written with four decimals, and brightness with three of a per cent: an own dose may
#: differ by half of the last digit, and by this share [1].
HALF_DIGIT, SHARE = 6e-5, 1.5e-5

#: The same of PPFD, which has three decimals. [µmol m⁻² s⁻¹]
PPFD_HALF_DIGIT = 6e-4


def differ(told: float, own: float) -> bool:
    """Return whether a number with four decimals is another one than an own one."""
    return abs(told - own) > HALF_DIGIT + SHARE * abs(own)


class Case:
    """What was written of a schedule, read back by readers of its own."""

    def __init__(self, written: Written) -> None:
        self.written, self.data = written, written.drawn.data
        self.files, self.exports = written.files, written.exports
        self.about, self.tables = readers.table_json(self.files["table.json"])
        self.summary: dict[str, Any] = readers.json.loads(self.files["summary.json"])
        self.ids = list(self.data["channels"])
        self._played: dict[tuple[PlainRow, ...], tuple[Ints, Bools]] = {}

    @cached_property
    def paths(self) -> dict[str, PlainPath]:
        """The light path of each channel, from what the schedule says."""
        found = {}
        for id in self.ids:
            ballast = self.about["channels"][id]["ballast"]
            points = [(p["volts"], p["light_percent"]) for p in ballast.get("points", ())]
            kind = self.data["ballasts"][self.data["channels"][id]["ballast"]]["response"]["kind"]
            # Small dips of a measured curve are levelled: another curve than the one that is written.
            found[id] = PlainPath(self.data, id, points if kind in ("swept", "measured") else ())
        return found

    def accepts(self, name: str) -> bool:
        """Return whether the schedule accepts a hard finding, for anything."""
        return any(each["finding"] == name for each in self.data.get("accept", ()))

    def rows_on(self, date: str | None) -> Mapping[str, list[PlainRow]]:
        """Return the rows of all channels on a date."""
        if date is None:
            return self.tables[None]
        return self.tables[
            max(first for first in self.tables if first is not None and first <= date)
        ]

    def played(self, id: str, date: str | None) -> tuple[Ints, Bools, Floats]:
        """Return counts, relay states and light of each second of a table's day."""
        rows, path = self.rows_on(date)[id], self.paths[id]
        counts, closed = path.play(rows)
        return counts, closed, path.light(counts, closed)
