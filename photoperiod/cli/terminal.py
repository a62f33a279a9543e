"""What a stream can show: how wide its lines may be, and which characters it knows."""

from __future__ import annotations

import codecs
import os
from typing import TextIO

#: What stands for the characters of our texts on a terminal that knows ASCII alone. One character for one
#: where that can be, so that columns stay straight.
PLAIN = {
    "µ": "u", "μ": "u", "²": "2", "¹": "1", "⁴": "4", "⁻": "-", "−": "-", "–": "-", "—": "-", "·": ".",
    "×": "x", "÷": "/", "±": "~", "≤": "<", "→": ">", "′": "'", "’": "'", "°": "d", "α": "a", "…": "...",
}  # fmt: skip

#: The name under which `codecs` knows how such a terminal is written to.
_PLAIN_ERRORS = "photoperiod-plain"

#: Locales in which a terminal knows ASCII alone.
_ASCII_LOCALES = ("C", "POSIX")


def prepare(stream: TextIO) -> None:
    """Let a stream write UTF-8; a terminal whose locale is plain C gets ASCII.

    A file or a pipe always gets UTF-8, and line ends as they are written, so that the same input gives the
    same bytes. Windows would make CRLF of each line end, and CR CR LF of those of CSV.
    """
    if not hasattr(stream, "reconfigure"):
        return
    if stream.isatty() and _locale() in _ASCII_LOCALES:
        codecs.register_error(_PLAIN_ERRORS, _plain)
        stream.reconfigure(encoding="ascii", errors=_PLAIN_ERRORS, newline="\n")
    else:
        stream.reconfigure(encoding="utf-8", errors="backslashreplace", newline="\n")


def _locale() -> str:
    """Return the name of the locale for characters, as the environment gives it; empty without."""
    names = (os.environ.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    return next((name for name in names if name), "")


def _plain(error: UnicodeError) -> tuple[str, int]:
    """Return what is written in place of characters that are not ASCII: a likeness, or an escape."""
    assert isinstance(error, UnicodeEncodeError)
    found = error.object[error.start : error.end]
    shown = "".join(
        PLAIN.get(each) or each.encode("ascii", "backslashreplace").decode() for each in found
    )
    return shown, error.end


def room_of(stream: TextIO) -> int | None:
    """Return how many columns a line of a stream may take: COLUMNS, then the terminal; None without."""
    stated = os.environ.get("COLUMNS", "")
    if stated.isdecimal() and int(stated) > 0:
        return int(stated)
    try:
        return os.get_terminal_size(stream.fileno()).columns or None
    except (AttributeError, OSError, ValueError):  # no terminal, no file, or closed from the start
        return None
