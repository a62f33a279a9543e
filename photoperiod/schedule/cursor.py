"""A mapping of plain data that knows its place in the file and never gives out a faulty value."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from photoperiod.diagnostics.model import Path

K = TypeVar("K", bound=StrEnum)

#: Lists of names. A faulty name is left out; a fault in any other list spoils the whole list.
_NAMED = ("tubes", "channels", "zones")


class AlreadyReported(Exception):
    """A value is needed that has a fault, and a diagnostic of that fault already stands."""


@dataclass(frozen=True, slots=True)
class Cursor:
    """A mapping of the file, with its path and the paths of all faulty values.

    Asking for a faulty value, or for a required one that is missing, raises `AlreadyReported`. So
    whatever needs the value is left out, and one mistake gives one message.
    """

    data: dict[str, Any]
    path: Path
    bad: frozenset[Path]

    def at(self, *steps: str | int) -> Path:
        """Return the path of something inside."""
        return (*self.path, *steps)

    def has(self, key: str) -> bool:
        """Return whether the key is written; raise AlreadyReported if it may be misspelt."""
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

    def kind(self, key: str, kinds: type[K], default: K | None = None) -> K:
        """Return one of some kinds; without a default it must be written."""
        value = self.get(key, default)
        if value is None:
            raise AlreadyReported
        return kinds(value)

    def child(self, key: str) -> Cursor:
        """Return the cursor of a mapping that must be there."""
        value = self.get(key)
        if value is None:
            raise AlreadyReported
        return Cursor(value, self.at(key), self.bad)

    def child_or_empty(self, key: str) -> Cursor:
        """Return the cursor of a mapping, empty where it was left out."""
        return Cursor(self.get(key, {}), self.at(key), self.bad)

    def items(self) -> Iterator[tuple[str, Cursor]]:
        """Yield the entries of a mapping of mappings, without those that are faulty as a whole."""
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
        """Yield the texts of a list with their paths, without faulty ones."""
        for index, value in enumerate(self.get(key, [])):
            if self.at(key, index) not in self.bad:
                yield str(value), self.at(key, index)
