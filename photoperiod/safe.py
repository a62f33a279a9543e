"""Make text from a file safe to show: a schedule must not be able to steer a terminal."""

from __future__ import annotations

import unicodedata

_KEPT_FORMATS = "\u200d"  # joins emoji


def safe(text: str) -> str:
    """Return text in one line, with control and direction characters shown as escapes."""
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    category = unicodedata.category(character)
    if category in ("Cc", "Cs", "Zl", "Zp") or (
        category == "Cf" and character not in _KEPT_FORMATS
    ):
        number = ord(character)
        return f"\\x{number:02x}" if number < 256 else f"\\u{number:04x}"
    return character


def width(text: str) -> int:
    """Return how many columns a terminal gives to text."""
    total = 0
    for character in text:
        if unicodedata.combining(character) or unicodedata.category(character) in (
            "Mn",
            "Me",
            "Cf",
        ):
            continue
        total += 2 if unicodedata.east_asian_width(character) in "WF" else 1
    return total
