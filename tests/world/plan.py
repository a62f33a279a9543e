"""Plans of the simulated world: rows, the table that holds them, and what they mean.

What a lamp should do is worked out here from the rows by docs/player.md, with none of our own code, so that
the player is judged by something that it does not know.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from tests.board.bench import FLOOR, SOFT_S, code, table
from tests.world.wrong import DAY_S

#: The soft start rises from the floor to the top in a straight line (rule 6 of docs/player.md). [counts/s]
SOFT_SLOPE = Fraction(100 - FLOOR, SOFT_S)

Row = tuple[int, int, str]


@dataclass(frozen=True, slots=True)
class Plan:
    """A table: its bytes, and the rows of every channel; all rows are in UTC.

    The lamp of a row that says ``off`` is dark until the next row. Rises are never steeper than a soft start.
    """

    raw: bytes
    rows: tuple[Row, ...]
    every_s: int
    is_over: bool = False

    @property
    def most(self) -> int:
        """The count of its peak."""
        return self.rows[1][1]

    def wanted(self, unix_s: float) -> int:
        """Return the count at a time of the clock; 0 if the lamp is dark."""
        second = int(unix_s) % DAY_S
        now = second - second % self.every_s
        before = [row for row in self.rows if row[0] <= now] or [self.rows[-1]]
        at, count, relay = before[-1]
        if relay == "off":
            return 0
        after = self.rows[(self.rows.index(before[-1]) + 1) % len(self.rows)]
        length, gone = (after[0] - at) % DAY_S, (now - at) % DAY_S
        return round(count + Fraction((after[1] - count) * gone, length))

    def next_row_s(self, unix_s: float) -> float:
        """Return the time from a moment to the next row. [s]"""
        second = unix_s % DAY_S
        return min((row[0] - second) % DAY_S or DAY_S for row in self.rows)

    def second_of(self, state: str, chance: random.Random) -> int:
        """Return a second of the day at which the lamp is dark, on a ramp, or at its peak."""
        dawn, peak, dusk, feet, off = (row[0] for row in self.rows)
        stretches = {
            "dark": (off + 60, dawn + DAY_S - 120),
            "peak": (peak, dusk),
            "ramp": (dawn + 60, peak),
        }
        first, last = stretches[state]
        if state == "ramp" and chance.random() < 0.5:
            first, last = dusk, feet
        return chance.randint(first, last) % DAY_S


def make_plan(
    chance: random.Random, channels: tuple[str, ...], *, span: tuple[str, str] | None = None
) -> Plan:
    """Return a plan of one day that nobody has thought out."""
    every_s = chance.choice((10, 60, 60))
    dawn = chance.randrange(5 * 60, 11 * 60) * 60
    rise, fall = chance.randrange(60, 150) * 60, chance.randrange(30, 150) * 60
    dusk = dawn + rise + chance.randrange(60, 360) * 60
    most = chance.randrange(40, 101)
    rows: tuple[Row, ...] = (
        (dawn, FLOOR, "on"),
        (dawn + rise, most, "on"),
        (dusk, most, "on"),
        (dusk + fall, FLOOR, "on"),
        (dusk + fall + 60, 0, "off"),
    )
    raw = table(*rows, channels=channels, every_seconds=every_s, dates=span)
    return Plan(raw, rows, every_s, span is not None)


def code_of(count: int) -> int:
    """Return the converter code of a count, by the arithmetic of the bench."""
    return code(count)


Plans = Mapping[bytes, Plan]
