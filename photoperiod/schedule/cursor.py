"""A view of plain data that knows its path and refuses to read what is known to be bad."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from photoperiod.diagnostics.model import Path

#: Lists of names, of which bad ones are left out one by one.
_NAMED = ("tubes", "channels", "zones")


class AlreadyReported(Exception):
    """A value was asked for that another diagnostic already stands for."""


@dataclass(frozen=True, slots=True)
class Cursor:
    """A mapping of the file, with its path and the paths that must not be used.

    Asking for a bad or missing required value raises `AlreadyReported`, so that whatever hangs on it is
    left out and one mistake gives one message.
    """

    data: dict[str, Any]
    path: Path
    bad: frozenset[Path]

    def at(self, *steps: str | int) -> Path:
        """Return the path of something inside."""
        return (*self.path, *steps)

    def has(self, key: str) -> bool:
        """True if the key is written; a misspelt one raises, for nobody knows."""
        if key not in self.data and self.at(key) in self.bad:
            raise AlreadyReported
        return key in self.data

    def get(self, key: str, default: Any = None) -> Any:
        """Return a value, or the default where it was left out."""
        if self.at(key) in self.bad:
            raise AlreadyReported
        value = self.data.get(key, default)
        items = range(len(value)) if isinstance(value, list) and key not in _NAMED else ()
        if any(self.at(key, index) in self.bad for index in items):
            raise AlreadyReported
        return value

    def number(self, key: str, default: float = 0.0) -> float:
        """Return a number as a float."""
        return float(self.get(key, default))

    def integer(self, key: str, default: int = 0) -> int:
        """Return a whole number."""
        return int(self.get(key, default))

    def optional_number(self, key: str) -> float | None:
        """Return a number as a float, or None where it was left out."""
        value = self.get(key)
        return None if value is None else float(value)

    def text(self, key: str, default: str = "") -> str:
        """Return text."""
        return str(self.get(key, default))

    def child(self, key: str) -> Cursor:
        """Return the view of a mapping that must be there."""
        value = self.get(key)
        if value is None:
            raise AlreadyReported
        return Cursor(value, self.at(key), self.bad)

    def child_or_empty(self, key: str) -> Cursor:
        """Return the view of a mapping, empty where it was left out."""
        return Cursor(self.get(key, {}), self.at(key), self.bad)

    def items(self) -> Iterator[tuple[str, Cursor]]:
        """Yield the entries of a mapping of mappings that are not bad as a whole."""
        for key, value in self.data.items():
            if self.at(key) not in self.bad:
                yield key, Cursor(value, self.at(key), self.bad)

    def list(self, key: str) -> Iterator[Cursor]:
        """Yield the mappings of a list."""
        for index, value in enumerate(self.get(key, [])):
            if self.at(key, index) in self.bad:
                raise AlreadyReported
            yield Cursor(value, self.at(key, index), self.bad)

    def names(self, key: str) -> Iterator[tuple[str, Path]]:
        """Yield the texts of a list with their paths, bad ones left out."""
        for index, value in enumerate(self.get(key, [])):
            if self.at(key, index) not in self.bad:
                yield str(value), self.at(key, index)
