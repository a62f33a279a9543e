"""What pictures of pages are drawn with: strokes, words and marks as SVG, and panels of a day.

Numbers are written with fixed decimals, so the pictures are the same each time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

Point = tuple[float, float]

MINUTE = 60
HOUR = 3600

WIDTH = 720
INK, PALE, GRID = "#222222", "#767676", "#d8d8d8"
BLUE, ORANGE = "#0059a0", "#b34700"  # told apart by the colour-blind, and by dashes and markers


@dataclass(frozen=True)
class Panel:
    """A rectangle with time across and a value up, from 0 to ``most``."""

    left: float
    top: float
    width: float
    height: float
    begin_s: float
    end_s: float
    most: float

    def x(self, second: float) -> float:
        """Return where a second is."""
        return self.left + self.width * (second - self.begin_s) / (self.end_s - self.begin_s)

    def y(self, value: float) -> float:
        """Return where a value is."""
        return self.top + self.height * (1.0 - value / self.most)

    @property
    def bottom(self) -> float:
        """Where 0 is."""
        return self.top + self.height

    @property
    def right(self) -> float:
        """Where the last second is."""
        return self.left + self.width

    def points(self, seconds: Iterable[float], values: Iterable[float]) -> list[Point]:
        """Return where some values are."""
        return [(self.x(s), self.y(v)) for s, v in zip(seconds, values, strict=True)]

    def axes(self, hours: Iterable[int], values: Iterable[int], unit: str) -> list[str]:
        """Return grid lines, with clock times below and values at the left."""
        parts = []
        for value in values:
            y = self.y(value)
            parts.append(line([(self.left, y), (self.right, y)], GRID if value else INK))
            parts.append(text(self.left - 6, y + 4, f"{value}", anchor="end"))
        parts.append(text(self.left - 34, self.top - 12, unit, anchor="start"))
        for hour in hours:
            x = self.x(hour * HOUR)
            parts.append(line([(x, self.bottom), (x, self.bottom + 4)], INK))
            parts.append(text(x, self.bottom + 17, f"{hour % 24:02d}:00", anchor="middle"))
        return parts


def num(value: float) -> str:
    """Return a length with one decimal; a half goes up, whatever its last bits are."""
    return f"{abs(value + 1e-6):.1f}" if abs(value) < 0.05 else f"{value + 1e-6:.1f}"


def line(points: Sequence[Point], colour: str, width: float = 1.0, dash: str = "") -> str:
    """Return straight strokes through some points; those inside a level stretch are left out."""
    at = [(num(x), num(y)) for x, y in points]
    kept = [
        point
        for k, point in enumerate(at)
        if k in (0, len(at) - 1) or not at[k - 1][1] == point[1] == at[k + 1][1]
    ]
    steps = "L".join(f"{x},{y}" for x, y in kept)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{steps}" fill="none" stroke="{colour}" stroke-width="{num(width)}"'
        f' stroke-linejoin="round"{dashes}/>'
    )


def text(
    x: float, y: float, words: str, anchor: str = "start", colour: str = INK, bold: bool = False
) -> str:
    """Return some words."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{num(x)}" y="{num(y)}" text-anchor="{anchor}" fill="{colour}"{weight}>'
        f"{escape(words)}</text>"
    )


def circle(at: Point, colour: str, radius: float = 4.5, is_filled: bool = True) -> str:
    """Return a circle, with a white edge if it is filled."""
    fill, edge = (colour, "#ffffff") if is_filled else ("#ffffff", colour)
    return (
        f'<circle cx="{num(at[0])}" cy="{num(at[1])}" r="{num(radius)}" fill="{fill}"'
        f' stroke="{edge}" stroke-width="1.2"/>'
    )


def square(at: Point, side: float, colour: str, fill: str = "#ffffff", width: float = 1.2) -> str:
    """Return a square around a point."""
    return (
        f'<rect x="{num(at[0] - side / 2)}" y="{num(at[1] - side / 2)}" width="{num(side)}"'
        f' height="{num(side)}" fill="{fill}" stroke="{colour}" stroke-width="{num(width)}"/>'
    )


def diamond(at: Point, colour: str, radius: float = 5.5, is_filled: bool = True) -> str:
    """Return a square that stands on a corner, with a white edge if it is filled."""
    x, y = at
    corners = [(x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y)]
    path = "L".join(f"{num(a)},{num(b)}" for a, b in corners)
    fill, edge = (colour, "#ffffff") if is_filled else ("#ffffff", colour)
    return f'<path d="M{path}Z" fill="{fill}" stroke="{edge}" stroke-width="1.2"/>'


def between(a: Point, b: Point, share: float) -> Point:
    """Return a point on the way from one to another."""
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def cut(points: Sequence[Point], left: float, right: float) -> list[Point]:
    """Return the part of a line between two edges; its points go rightward."""
    pairs = list(pairwise(points))

    def crossing(edge: float) -> list[Point]:
        return [
            between(a, b, (edge - a[0]) / (b[0] - a[0])) for a, b in pairs if a[0] < edge < b[0]
        ]

    return [*crossing(left), *(p for p in points if left <= p[0] <= right), *crossing(right)]


def label(
    at: Point, to: Point, words: str, colour: str = INK, bold: bool = False, anchor: str = "start"
) -> list[str]:
    """Return some words and a fine stroke from them to what they name."""
    aside, down = {"start": (-4, -4), "middle": (0, 5), "end": (4, -4)}[anchor]
    begin = (at[0] + aside, at[1] + down)
    return [line([begin, to], colour, 0.8), text(*at, words, anchor, colour, bold)]


def picture(title: str, height: int, parts: Iterable[str]) -> str:
    """Return a whole picture on white ground."""
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}"'
        f' viewBox="0 0 {WIDTH} {height}" role="img" aria-label={quoteattr(title)}'
        ' font-family="sans-serif" font-size="12">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{height}" fill="#ffffff"/>',
        *parts,
        "</svg>",
        "",
    ])  # fmt: skip


def clock(second: int) -> str:
    """Return a time of day."""
    return f"{second // HOUR:02d}:{second % HOUR // MINUTE:02d}"
