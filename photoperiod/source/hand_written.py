"""The files that people write: how each is told from the others, and what it is called."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file that people write, with its name and what it is for, in words."""

    name: str
    purpose: str


#: By the key at the top of the file that holds its version, which is the name of its schema, too.
HAND_WRITTEN = {
    "schedule": FileKind("a schedule", "this one is for `check` and `compile`"),
    "parts": FileKind("a file of parts", "parts are checked with the schedules that take them"),
    "board": FileKind("a board file", "this one is for `run TABLE --board`"),
}
