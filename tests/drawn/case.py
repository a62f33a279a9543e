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

#: Doses and hours are written with four decimals, what channels give at full with few more: an own dose may
#: differ by half of the last digit, and by this share [1].
HALF_DIGIT, SHARE = 6e-5, 1.5e-5

#: Brightness is written with three decimals of a per cent. That is much of a lamp that gives a thousandth
#: of what was measured. [1]
BRIGHTNESS_HALF_DIGIT = 6e-6

#: The same of PPFD, which has three decimals. [µmol m⁻² s⁻¹]
PPFD_HALF_DIGIT = 6e-4


#: So many days are kept played: one takes 1.5 MB, and most schedules have fewer.
MOST_PLAYED = 24


def differ(told: float, own: float, slack: float = 0.0) -> bool:
    """Return whether a number with four decimals is another one than an own one that is true to a slack."""
    return abs(told - own) > HALF_DIGIT + SHARE * abs(own) + slack


class Case:
    """What was written of a schedule, read back by readers of its own."""

    def __init__(self, written: Written) -> None:
        self.written, self.data = written, written.drawn.data
        self.files, self.exports = written.files, written.exports
        self.about, self.tables = readers.table_json(self.files["table.json"])
        self.summary: dict[str, Any] = readers.json.loads(self.files["summary.json"])
        self.ids = list(self.data["channels"])
        self._played: dict[tuple[str, str | None], tuple[Ints, Bools, Floats]] = {}

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

    def first_of(self, date: str | None) -> str | None:
        """Return the first date of the table that holds on a date."""
        if date is None:
            return None
        return max(first for first in self.tables if first is not None and first <= date)

    def rows_on(self, date: str | None) -> Mapping[str, list[PlainRow]]:
        """Return the rows of all channels on a date."""
        return self.tables[self.first_of(date)]

    def played(self, id: str, date: str | None) -> tuple[Ints, Bools, Floats]:
        """Return counts, relay states and light of each second of a table's day."""
        key = id, self.first_of(date)
        found = self._played.get(key)
        if found is None:
            path = self.paths[id]
            counts, closed = path.play(self.rows_on(date)[id])
            found = counts, closed, path.light(counts, closed)
            if len(self._played) >= MOST_PLAYED:
                del self._played[next(iter(self._played))]
            self._played[key] = found
        return found
