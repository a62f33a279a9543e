"""What a picture is made of: shapes, words and the numbers behind them. A template draws it as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from photoperiod.page.scales import Scale, place_text, ticks
from photoperiod.text import number_text, safe, width

#: Every picture is so wide [user units]; a phone shows one of them as about one pixel.
WIDTH = 340.0

#: Where curves begin and end, so that numbers have room beside them. [user units]
LEFT, RIGHT = 36.0, 330.0

#: Half the height of letters: digits and most small letters are no wider. [user units]
COLUMN = 5.5

#: Letters that are nearly as wide as they are high, and what is left out at the end of a name [columns].
_WIDE = frozenset("mwMW@%&ÆŒæœ—…")
ELLIPSIS = 2.0

#: From the hours of the day to the place of a picture.
HOURS = Scale(0.0, 24.0, LEFT, RIGHT)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a script reads from a curve under the pointer: value = ``per_unit`` × (``base`` − y).

    ``name`` and ``unit`` are shown with it.
    """

    name: str
    unit: str
    base: float
    per_unit: float


@dataclass(frozen=True, slots=True)
class Shape:
    """A path and how it looks: words that the style sheet knows."""

    d: str
    look: str
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """Words at a place. ``look`` may say ``middle`` or ``end``; else they begin there.

    ``whole`` is the whole name where the text had to be cut.
    """

    x: float
    y: float
    text: str
    look: str = ""
    whole: str = ""

    @property
    def place(self) -> tuple[str, str]:
        """The place as it is written."""
        return place_text(self.x), place_text(self.y)


@dataclass(frozen=True, slots=True)
class Numbers:
    """A table of numbers: the first column names the row.

    ``note`` says what to know of them, such as on whose clock the times are.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A picture that answers one question.

    Parameters
    ----------
    id : str
        Letters, digits and hyphens; unlike any other on the page.
    title, about : str
        What it shows, in a few words and in a sentence or two for who can't see it.
    height : float
        Its height; it is `WIDTH` wide. [user units]
    shapes, words : tuple
        In the order in which they are drawn.
    heading, caption : str
        What stands above it; what a reader must know to read it.
    numbers : tuple of Numbers
        The numbers that it shows.
    has_hours : bool
        True if it runs over the hours of a day, so that a moment can be pointed at.
    """

    id: str
    title: str
    about: str
    height: float
    shapes: tuple[Shape, ...]
    words: tuple[Words, ...]
    heading: str = ""
    caption: str = ""
    numbers: tuple[Numbers, ...] = ()
    has_hours: bool = False


def breadth(text: str) -> float:
    """Return how many columns of `COLUMN` a line of letters takes at most, in the face of the page."""
    return width(text) + sum(1.0 if c in _WIDE else 0.5 * c.isupper() for c in text)


def cut(text: str, most: float) -> str:
    """Return a name in one line, of at most so many columns; the end of a longer one is an ellipsis."""
    text = safe(text)
    if breadth(text) <= most:
        return text
    while breadth(text) > most - ELLIPSIS:
        text = text[:-1]
    return text.rstrip() + "…"


def named(x: float, y: float, name: str, most: float, look: str = "name") -> Words:
    """Return a name that is cut to so many columns; the whole one is shown under the pointer."""
    shown, whole = cut(name, most), safe(name)
    return Words(x, y, shown, look, whole if shown != whole else "")


def line(x1: float, y1: float, x2: float, y2: float, look: str) -> Shape:
    """Return a straight line."""
    return Shape(
        f"M{place_text(x1)} {place_text(y1)}L{place_text(x2)} {place_text(y2)}",
        look,
    )


def marks(places: Iterable[float], top: float, height: float, look: str) -> Shape:
    """Return upright marks of one look as a single shape: a page of many channels stays small."""
    down = f"{place_text(top)}v{place_text(height)}"
    return Shape("".join(f"M{place_text(x)} {down}" for x in places), look)


def hours_axis(y: float, *, labels: bool = True) -> tuple[list[Shape], list[Words]]:
    """Return the axis of a day's hours: a line, a tick each three hours, and their names."""
    shapes = [line(LEFT, y, RIGHT, y, "axis")]
    words = []
    for hour in range(0, 25, 3):
        x = HOURS.at(hour)
        shapes.append(line(x, y, x, y + 3, "axis"))
        if labels:
            words.append(Words(x, y + 13, f"{hour:02d}", "middle"))
    return shapes, words


def value_axis(y: Scale, most: int, decimals: int = 1) -> tuple[list[Shape], list[Words]]:
    """Return thin rules across a picture at even values, with the values at the left."""
    shapes, words = [], []
    for value in ticks(y.high, most):
        place = y.at(value)
        if value:
            shapes.append(line(LEFT, place, RIGHT, place, "grid"))
        words.append(Words(LEFT - 4, place + 3.5, number_text(value, decimals), "end"))
    return shapes, words


def sentence(parts: Sequence[str]) -> str:
    """Return sentences in a row, without those that are empty."""
    return " ".join(part for part in parts if part)
