"""Make text from a file safe to show: a schedule must not be able to steer a terminal."""

from __future__ import annotations

import json
import unicodedata
from typing import Any

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
        if number > 0xFFFF:
            return f"\\U{number:08x}"
        return f"\\x{number:02x}" if number < 256 else f"\\u{number:04x}"
    return character


def short(value: object) -> str:
    """Return text cut to a length that fits a message."""
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "…"


def json_text(data: Any) -> str:
    """Return indented JSON in which control and direction characters are escaped."""
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return "".join(_json_character(c) if not c.isprintable() and c != "\n" else c for c in text)


def _json_character(character: str) -> str:
    if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp"):
        return character
    return json.dumps(character)[1:-1] if ord(character) != 0x7F else "\\u007f"


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
