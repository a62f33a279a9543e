"""Draws that the parts of a schedule share."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

T = TypeVar("T")

#: Shapes of ramps.
SHAPES = ("linear", "sine", "smooth", "perceptual")

#: Labels and titles that a file format could trip over.
LABELS = (
    "Crest, front left",
    'the "old" tank; left = right',
    "Zürich – Becken 3 (Süd)",
    "水槽 前面",
    "*/ ends no comment /* nor does ??/ this",
    "=1+1",
    "# no comment: {a: b}",
    "'quoted' \\n and a backslash \\",
    "  blanks at both ends  ",
    "🐠 moon",
    "x" * 90,
    "null",
)


class Dice(random.Random):
    """A source of chance; the same seed gives the same draws on every machine and Python."""

    def chance(self, share: float) -> bool:
        """Return True in this share of all cases."""
        return self.random() < share

    def pick(self, weights: Mapping[T, float] | Sequence[T]) -> T:
        """Return one of some values; a mapping gives each a weight."""
        if isinstance(weights, Mapping):
            return self.choices(list(weights), list(weights.values()))[0]
        return self.choice(weights)

    def number(self, low: float, high: float, decimals: int = 2) -> float:
        """Return a number with few decimals; a whole one is an int, as people write it."""
        value = round(self.uniform(low, high), decimals)
        return int(value) if value == int(value) else value

    def label(self, into: dict[str, Any], share: float = 0.15) -> None:
        """Give a part a label now and then."""
        if self.chance(share):
            into["label"] = self.pick(LABELS)


def clock_text(second: int, *, is_end: bool = False) -> str:
    """Return a second as a time of day; midnight as an end is 24:00."""
    if is_end and second % 86_400 == 0:
        return "24:00"
    hour, rest = divmod(second % 86_400, 3600)
    text = f"{hour:02}:{rest // 60:02}"
    return text + (f":{rest % 60:02}" if rest % 60 else "")
