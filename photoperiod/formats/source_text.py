"""What exports as source code share: comments that no text can end early, and their words."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import replace
from importlib.resources import files

from photoperiod.drive.grid import LevelUnit, RelayKind, Row
from photoperiod.formats.about import About
from photoperiod.formats.image import Image, ImageFault, date_of, decode, encode
from photoperiod.formats.row_text import MADE_WITH
from photoperiod.text import clock_text, number_text, safe

#: What the schema permits as the id of a channel. Nothing else becomes part of a name.
_ID = re.compile(r"[a-z][a-z0-9-]{0,39}")

#: Where a space goes into pairs that begin or end a comment or a trigraph.
_PAIR = re.compile(r"(?<=[*/?])(?=[*/?])")

#: How the unit of a level is written.
_UNITS = {LevelUnit.PERCENT: "%", LevelUnit.MILLIVOLTS: "mV", LevelUnit.CODE: "as code"}


def comment(text: str) -> str:
    """Return text that stays inside a comment of C, C++ or Python, in one line.

    A backslash could join lines or begin an escape. It is shown by its number, as are control and
    direction characters.
    """
    shown = "".join("(U+005C)" if c == "\\" else _shown(c) for c in text)
    return _PAIR.sub(" ", shown)


def _shown(character: str) -> str:
    return character if safe(character) == character else f"(U+{ord(character):04X})"


def bare_image(image: Image, about: About, most_bytes: int) -> bytes:
    """Return the bytes of an image without its description.

    Raises
    ------
    ImageFault
        If the image does not fit, or ``about`` describes another one.
    """
    ids = list(about.channels)
    if len(ids) != len(image.channels):
        raise ImageFault(
            f"it has {len(image.channels)} channels, and its description has {len(ids)}"
        )
    for id in ids:
        if not _ID.fullmatch(id):
            raise ImageFault(f"{id!r} is no id of a channel")
    if about.sha256 != image.digest.hex():
        raise ImageFault("its description is of another schedule")
    raw = encode(replace(image, about=b""))
    decode(raw)  # a controller that refuses its table could tell nobody
    if len(raw) > most_bytes:
        raise ImageFault(f"its {len(raw):,} bytes are more than the {most_bytes:,} of this export")
    return raw


def constant_of(id: str) -> str:
    """Return how exports as source code name a channel: its id in capitals, ``blue-left`` as BLUE_LEFT."""
    return id.upper().replace("-", "_")


def player_source(name: str) -> str:
    """Return the source of a player, as it stands in the package."""
    return (files("photoperiod.formats") / "players" / name).read_text(encoding="utf-8")


def wrapped(lines: Iterable[str], width: int) -> Iterator[str]:
    """Yield lines no longer than a width where their words permit it."""
    for line in lines:
        yield from textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False) or [
            ""
        ]


def story(image: Image, about: About) -> Iterator[str]:
    """Yield lines for people: the schedule, the program, the clock, and the dates."""
    yield comment(about.title)
    yield ""
    yield f"Schedule   sha256 {image.digest.hex()}"
    yield f"Made with  {comment(about.made_with)}, {comment(about.zone_data)}"
    if about.made_with != MADE_WITH:
        yield f"Written by {comment(MADE_WITH)}"
    zone = about.time_zone
    yield f"Clock      {image.clock}" + (f" time of {comment(zone)}" if zone else "")
    if image.span is None:
        yield "Dates      none: the same table every day"
    else:
        yield f"Dates      {date_of(image.span[0])} to {date_of(image.span[1])}"


def cautions(about: About) -> Iterator[str]:
    """Yield the cautions, and what the schedule accepts against them."""
    for text in about.cautions:
        yield comment(text)
    for finding in about.accepted:
        yield comment(f"Accepted: {finding.message} ({finding.because})")


def row_text(image: Image, about: About, row: Row) -> str:
    """Return a row as people read it: when, how much, and the relay if rows have one."""
    levels = about.controller.levels
    level = number_text(float(row.count * levels.step), 4)
    text = f"{clock_text(row.second)}  count {row.count}, {level} {_UNITS[levels.unit]}"
    if image.relay == RelayKind.COLUMN:
        text += ", relay " + ("open" if row.relay is False else "closed")
    return text
