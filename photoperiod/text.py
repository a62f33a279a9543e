"""Text for people: safe to show on a terminal, and numbers, times and paths as they are written."""

from __future__ import annotations

import codecs
import datetime as dt
import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE

_KEPT_FORMATS = "\u200d"  # joins emoji

#: The combining marks begin here: each character before them that `safe` leaves takes one column.
FIRST_OF_OTHER_WIDTH = "\u0300"


def safe(text: str) -> str:
    """Return the text in one line; control and direction characters become visible escapes.

    Whatever a file or a name of strangers holds goes through here before a person reads it.
    """
    return _with_escapes(text, but="")


def safe_lines(text: str) -> str:
    """Return the text with its line ends and tabs; other characters as in `safe`."""
    return _with_escapes(text, but="\n\t")


def safe_message(text: str) -> str:
    """Return the text as in `safe`, but with the line ends before indented lines.

    A message may go on in such lines; no name in it begins a line at the left edge, as messages do.
    """
    parts = re.split(r"(\n[ \t]+)", text)
    return "".join(part if n % 2 else safe(part) for n, part in enumerate(parts))


def _with_escapes(text: str, but: str) -> str:
    if text.isprintable():  # nearly all are
        return text
    # Few texts have such characters: of a long one only these are looked at one by one.
    strange = {c for c in set(text) if not c.isprintable() and c not in but}
    return text.translate({ord(c): _shown(c) for c in strange}) if strange else text


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
    """Return the value as text; of more than 60 characters the first 57 and an ellipsis."""
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "…"


def json_text(data: Any) -> str:
    """Return indented JSON in which control and direction characters are escaped."""
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    # Few texts have such characters: of a long one only these are looked at one by one.
    strange = {c for c in set(text) if not c.isprintable() and c != "\n"}
    return text.translate({ord(c): _json_character(c) for c in strange}) if strange else text


def _json_character(character: str) -> str:
    if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp"):
        return character
    return json.dumps(character)[1:-1] if ord(character) != 0x7F else "\\u007f"


def clock_text(second_of_day: int, *, with_seconds: bool = False) -> str:
    """Return a second of the day as ``HH:MM`` or ``HH:MM:SS``; 86,400 is ``24:00``."""
    hours, rest = divmod(second_of_day, SECONDS_PER_HOUR)
    minutes, seconds = divmod(rest, SECONDS_PER_MINUTE)
    if with_seconds or seconds:
        return f"{hours:02d}:{minutes:02d}:{seconds:02d}"
    return f"{hours:02d}:{minutes:02d}"


def utc_text(unix_s: float) -> str:
    """Return an instant in UTC to the second (RFC 3339); beyond the calendar, its Unix seconds."""
    try:
        moment = dt.datetime.fromtimestamp(int(unix_s), dt.UTC)
    except (ValueError, OverflowError, OSError):
        return f"{unix_s:.0f} s"
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def hours_text(seconds: float) -> str:
    """Return a duration as hours and minutes, ``11 h 59 min``; in seconds below a minute."""
    if 0 < seconds < SECONDS_PER_MINUTE:
        return f"{round(seconds)} s"
    minutes = round(seconds / SECONDS_PER_MINUTE)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def number_text(value: float, decimals: int = 2) -> str:
    """Return a number with at most ``decimals`` decimals and no trailing zeros."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def range_text(least: float, most: float, decimals: int = 2) -> str:
    """Return the least and the most of some numbers; one number where they read the same."""
    low, high = f"{least:.{decimals}f}", f"{most:.{decimals}f}"
    return low if low == high else f"{low} to {high}"


def plain_number(value: float) -> str:
    """Return a number with up to twelve significant digits and no trailing zeros."""
    return f"{value:.12g}"


def no_date_text(text: str) -> tuple[str, str]:
    """Return what to say of text that is no date, and a way out: its form is wrong, or no calendar has it.

    Examples
    --------
    >>> no_date_text("2027-02-30")[0]
    'there is no such date as 2027-02-30'
    >>> no_date_text("2027-02-29")[1]
    'the days of 2027-02 are 01 to 28'
    >>> no_date_text("2027-02-28T25:00")[0]
    'there is no such time as 25:00'
    >>> no_date_text("soon")
    ("'soon' is not a date", 'write it as 2027-03-02')
    """
    found = re.fullmatch("([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ]([0-9]{2}:[0-9:.]+).*)?", text)
    if found is not None:
        try:
            dt.date.fromisoformat(found[1])
        except ValueError:
            return f"there is no such date as {found[1]}", _calendar_text(found[1])
        if found[2]:
            hours = "hours are 00 to 23, minutes and seconds 00 to 59"
            return f"there is no such time as {short(found[2])}", hours
    return f"'{short(text)}' is not a date", "write it as 2027-03-02"


def _calendar_text(date: str) -> str:
    """Return what calendars have, of the first part of a date, YYYY-MM-DD, that none has."""
    year, month = int(date[:4]), int(date[5:7])
    if year < dt.MINYEAR:
        return f"years are {dt.MINYEAR:04d} to {dt.MAXYEAR}"
    if not 1 <= month <= 12:
        return "months are 01 to 12"
    from calendar import monthrange  # only a faulty date needs it

    return f"the days of {date[:7]} are 01 to {monthrange(year, month)[1]}"


def no_utf8_text(raw: bytes, start: int) -> tuple[str, str]:
    """Return what to say of bytes that are no text in UTF-8, from the byte that is not; and a way out.

    Examples
    --------
    >>> no_utf8_text("täglich".encode("latin-1"), 1)
    ('byte 0xe4 is not UTF-8', 'save it as UTF-8')
    """
    told = f"byte 0x{raw[start]:02x} is not UTF-8"
    if not raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return told, "save it as UTF-8"
    way_out = "save it as UTF-8; `>` of PowerShell writes UTF-16, an editor can save it anew"
    return f"{told}: the file is UTF-16", way_out


def extra_text(name: str) -> str:
    """Return how an extra is installed: from a checkout, or where the program came from an index.

    Examples
    --------
    >>> extra_text("solve")
    "pip install '.[solve]' in the checkout (or 'photoperiod[solve]', if it was installed by that name)"
    """
    return (
        f"pip install '.[{name}]' in the checkout (or 'photoperiod[{name}]', if it was installed by that"
        " name)"
    )


def counted(number: float, what: str, decimals: int = 0) -> str:
    """Return a number and a noun, with a plural s unless the number reads 1."""
    text = number_text(number, decimals)
    return f"{text} {what}" + ("" if text == "1" else "s")


def and_list(names: Sequence[str]) -> str:
    """Return names as a list in a sentence: ``a``, ``a and b``, ``a, b and c``."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def close_match(word: str, allowed: Iterable[str], cutoff: float = 0.6) -> str | None:
    """Return the allowed word that was probably meant, or None.

    ``cutoff`` is the least similarity, 0 to 1, by the measure of `difflib`.
    """
    import difflib  # slow to import, and only a faulty schedule needs it

    found = difflib.get_close_matches(word, list(allowed), n=1, cutoff=cutoff)
    return found[0] if found else None


def suggestion(word: str, allowed: Iterable[str], kind: str = "") -> str:
    """Return help for a word that is not allowed: the word probably meant, or the allowed words.

    ``kind`` names the things that could stand here, for when there are none.
    """
    words = list(allowed)
    guess = close_match(word, words)
    if guess is not None:
        return f"did you mean '{short(guess)}'?"
    if not words:
        return f"there is no {kind} to name here" if kind else ""
    shown = ", ".join(short(word) for word in words[:12]) + (", …" if len(words) > 12 else "")
    return f"allowed here: {shown}"


def path_text(path: Sequence[str | int]) -> str:
    """Return a place in the schedule as text: ``channels.blue.day.peaks[0]``."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return text or "(top)"


def columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], room: int | None = None
) -> list[str]:
    """Return a head and rows as lines of left-aligned columns, two blanks apart.

    Where a line would be wider than ``room``, each row becomes some lines: its first cell, and under it
    the other cells, each behind its head.
    """
    everything = [list(head), *(list(row) for row in rows)]
    widths = [max(width(row[i]) for row in everything) for i in range(len(head))]
    if room is not None and sum(widths) + 2 * (len(widths) - 1) > room:
        return [
            line
            for first, *others in rows
            for line in (first, *(f"  {h}: {c}" for h, c in zip(head[1:], others, strict=True)))
        ]
    return [
        "  ".join(cell + " " * (widths[i] - width(cell)) for i, cell in enumerate(row)).rstrip()
        for row in everything
    ]


def wrapped(line: str, room: int | None, indent: str = "") -> str:
    """Return a line cut between words into lines of at most ``room`` columns; None leaves it whole.

    ``indent`` begins all lines but the first. A word that is wider stands alone.
    """
    if room is None or width(line) <= room:
        return line
    lead = line[: len(line) - len(line.lstrip())]
    lines, now = [], lead
    for word in line.lstrip().split(" "):
        longer = now + word if not now.strip() else f"{now} {word}"
        if now.strip() and width(longer) > room:
            lines.append(now)
            longer = indent + word
        now = longer
    return "\n".join([*lines, now])


def width(text: str) -> int:
    """Return how many columns of a terminal the text takes; it holds no control characters."""
    if max(text, default="") < FIRST_OF_OTHER_WIDTH:
        return len(text)  # nearly always: the library's tables are slow to load
    from wcwidth import wcswidth

    return wcswidth(text, unicode_version="latest")  # else it asks the environment
