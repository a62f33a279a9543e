"""The forms that an answer can have: whatever a keeper usually types becomes one value, or is refused.

``21:00``, ``9pm`` and ``21.00`` are one time; ``54W`` and ``54 watts`` one power; ``8,5`` and ``8.5`` one
number. What could mean two things (``1,000``, or ``9`` as a time) is refused, never guessed.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NoReturn

from photoperiod.sky.clock import zone_names
from photoperiod.text import close_match, no_date_text, plain_number, safe, short

#: An answer. `LATER` stands for what is not known yet, a tuple for several names or numbers.
Value = str | int | float | tuple[str, ...] | tuple[float, ...]

#: The answer that leaves something open, and what else is taken for it.
LATER = "later"
LIKE_LATER = ("later", "unknown", "not yet", "not known", "don't know", "dont know")

#: Words for units, and what one of them is in the unit of the answer.
Units = Mapping[str, float]
VOLTS: Units = {"v": 1, "volt": 1, "volts": 1, "mv": 0.001}
WATTS: Units = {"w": 1, "watt": 1, "watts": 1}
PERCENT: Units = {"%": 1, "percent": 1, "per cent": 1}
HOURS: Units = {"h": 1, "hr": 1, "hrs": 1, "hour": 1, "hours": 1}
BITS: Units = {"bit": 1, "bits": 1}
ROWS: Units = {"row": 1, "rows": 1}
PIECES: Units = {"ballast": 1, "ballasts": 1, "driver": 1, "drivers": 1}
#: As `_plain` leaves them: micro is a Greek letter, exponents are common digits.
PPFD: Units = {"ppfd": 1, "par": 1, "μmol": 1, "umol": 1, "μmol m-2 s-1": 1, "μmol/m2/s": 1,
               "umol m-2 s-1": 1, "umol/m2/s": 1, "μmol/m2s": 1}  # fmt: skip

_MINUTES: Units = {"": 1, "min": 1, "mins": 1, "minute": 1, "minutes": 1,
                   "s": 1 / 60, "sec": 1 / 60, "second": 1 / 60, "seconds": 1 / 60,
                   "h": 60, "hr": 60, "hour": 60, "hours": 60}  # fmt: skip

_NUMBER = r"[+-]?(?:\d{1,12}(?:[.,]\d{1,15})?|[.,]\d{1,15})"
_CLOCK = re.compile(r"(\d{1,2})(?:[:.,h](\d{2})(?:[:.](\d{2}))?)? ?(am|pm|a\.m\.|p\.m\.|h)?")
_EVENT = re.compile(
    r"(sunrise|sunset|noon|(?:civil|nautical|astronomical) (?:dawn|dusk))"
    r"(?: ?([+-]) ?(\d{1,3}) ?(min|mins|minutes|h|hour|hours)?)?"
)


class NotInForm(ValueError):
    """An answer that is not in the form asked for; the text says what is wrong, if that is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What an answer can look like.

    Parameters
    ----------
    words : str
        The form in words, with an example: ``volts from 0 to 10, such as 8.5``.
    read : callable
        Returns the value of an answer, or raises `NotInForm`.
    show : callable
        Returns a value as the answer in its plainest form; ``read`` of it is the same value.
    choices : tuple of str
        The words that it must be one of; empty if it is free.
    word : str
        The word that may stand instead, such as ``later``; empty if there is none.
    """

    words: str
    read: Callable[[str], Value]
    show: Callable[[Value], str] = str
    choices: tuple[str, ...] = ()
    word: str = ""


def _plain(text: str) -> str:
    """Return an answer in small letters, with one kind of space, dash and digit."""
    text = unicodedata.normalize("NFKC", text).casefold()
    for dash in "‐‑‒–—−":
        text = text.replace(dash, "-")
    return " ".join(text.replace("’", "'").split())


def _number(text: str) -> float:
    """Return a number that has a point or a comma before its decimals."""
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
        one, other = text.replace(",", ""), text.replace(",", ".")
        raise NotInForm(f"'{text}' can mean {one} or {other}: write it without the comma")
    return float(text.replace(",", "."))


def _measured(text: str, units: Units) -> float | None:
    """Return a number that one of the units may follow, in the unit of the answer; None if it is none."""
    found = re.fullmatch(rf"({_NUMBER}) ?(.*)", text)
    if not found or (found[2] and found[2] not in units):
        return None
    return float(plain_number(_number(found[1]) * (units[found[2]] if found[2] else 1)))


def _shown(value: Value) -> str:
    """Return a value as text: numbers without needless digits, several of them with commas."""
    if isinstance(value, tuple):
        return ", ".join(_shown(each) for each in value)
    return plain_number(value) if isinstance(value, float) else str(value)


def number(
    words: str,
    least: float,
    most: float,
    units: Units | None = None,
    *,
    is_whole: bool = False,
    is_above_least: bool = False,
) -> Form:
    """Return the form of a number from ``least`` (or above it) to ``most``; a unit may follow it."""
    bounds = f"from {plain_number(least)} to {plain_number(most)}"
    if is_above_least:
        bounds = f"above {plain_number(least)} and at most {plain_number(most)}"
    words = words.format(bounds=bounds)

    def read(text: str) -> Value:
        value = _measured(_plain(text), units or {})
        if value is None:
            raise NotInForm
        if is_whole and value != int(value):
            raise NotInForm(f"{plain_number(value)} is not a whole number")
        if not least <= value <= most or (is_above_least and value == least):
            raise NotInForm(f"{plain_number(value)} is not {bounds}")
        return int(value) if is_whole else value

    return Form(words=words, read=read, show=_shown)


def choice(choices: Mapping[str, tuple[str, ...]]) -> Form:
    """Return the form of one word of several; each may have other words that mean the same."""
    by_word = {_plain(word): key for key, others in choices.items() for word in (key, *others)}
    words = " or ".join((", ".join(list(choices)[:-1]), list(choices)[-1]))

    def read(text: str) -> Value:
        plain = _plain(text)
        if plain in by_word:
            return by_word[plain]
        begun = {key for word, key in by_word.items() if plain and word.startswith(plain)}
        if len(begun) == 1:
            return begun.pop()
        guess = close_match(plain, by_word)
        raise NotInForm(f"did you mean {by_word[guess]}?" if guess else "")

    return Form(words=words, read=read, choices=tuple(choices))


def or_word(form: Form, word: str, meant: tuple[str, ...] = LIKE_LATER) -> Form:
    """Return a form that also takes a word, such as ``later``, and whatever means the same."""

    def read(text: str) -> Value:
        return word if _plain(text) in (word, *meant) else form.read(text)

    def show(value: Value) -> str:
        return word if value == word else form.show(value)

    return Form(words=f"{form.words}; or {word}", read=read, show=show, word=word)


#: Without quotes they are no text in a schedule.
_WORDS_OF_YAML = ("null", "true", "false")


def _id(text: str) -> str:
    """Return a name as an id: small letters, digits, hyphens."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    name = re.sub(r"[\s_-]+", "-", _plain(bare)).strip("-")
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,39}", name):
        raise NotInForm(
            f"'{short(safe(text.strip()))}' has other characters, or does not begin with a letter"
            if name
            else ""
        )
    if name in _WORDS_OF_YAML:
        raise NotInForm(f"'{name}' has a meaning of its own in a schedule: choose another name")
    return name


def id_(example: str) -> Form:
    """Return the form of a short name."""
    words = f"a short name of letters, digits and hyphens, such as {example}"
    return Form(words=words, read=_id)


def ids(example: str, taken: tuple[str, ...] = (LATER,)) -> Form:
    """Return the form of several short names, with commas; without one, spaces part them."""

    def read(text: str) -> Value:
        parts = text.split(",") if "," in text else re.split(r"\s+and\s+|\s+", text.strip())
        found = tuple(_id(part) for part in parts if part.strip())
        for name in found:
            if found.count(name) > 1:
                raise NotInForm(f"'{name}' stands twice")
            if name in taken:
                raise NotInForm(f"'{name}' is a word of these questions: choose another name")
        if not 1 <= len(found) <= 64:
            raise NotInForm
        return found

    return Form(words=f"short names with commas between, such as {example}", read=read, show=_shown)


def label(words: str, least: int = 1) -> Form:
    """Return the form of any text in one line, of at least so many characters."""

    def read(text: str) -> Value:
        text = text.strip()
        if not text.isprintable():
            raise NotInForm("it holds a character that can't be shown")
        if not least <= len(text) <= 200:
            raise NotInForm(f"it has {len(text)} characters")
        return text

    return Form(words=words, read=read)


def path(example: str) -> Form:
    """Return the form of a file's path from the folder of the schedule."""

    def read(text: str) -> Value:
        text = text.strip()
        if not text or not text.isprintable() or len(text) > 400:
            raise NotInForm
        if text[0] == "/" or "\\" in text:
            raise NotInForm("it is a path from the folder of the schedule, with / between folders")
        return text

    return Form(words=f"a path from the folder of the schedule, such as {example}", read=read)


def _clock(text: str, *, is_end: bool) -> str:
    """Return a time of day as ``HH:MM`` or ``HH:MM:SS``."""
    if text == "midnight":
        return "24:00" if is_end else "00:00"
    digits = re.fullmatch(r"(\d{2})(\d{2})", text)
    found = _CLOCK.fullmatch(f"{digits[1]}:{digits[2]}" if digits else text)
    if found is None:
        raise NotInForm
    hour, minute, second = (int(part or 0) for part in found.group(1, 2, 3))
    half = (found[4] or "").replace(".", "")
    if half in ("am", "pm"):
        hour = _hour_of_day(hour, half)
    elif found[2] is None and not half:
        _refuse_hour_alone(hour, text)
    is_last = is_end and (hour, minute, second) == (24, 0, 0)
    if (hour > 23 and not is_last) or minute > 59 or second > 59:
        raise NotInForm("no clock shows that")
    return f"{hour:02d}:{minute:02d}" + (f":{second:02d}" if second else "")


def _hour_of_day(hour: int, half: str) -> int:
    """Return the hour from 0 to 23 of one in the morning, `am`, or after noon, `pm`."""
    if not 1 <= hour <= 12:
        raise NotInForm(f"there is no {hour} {half}")
    return hour % 12 + (12 if half == "pm" else 0)


def _refuse_hour_alone(hour: int, text: str) -> NoReturn:
    """Raise with what is missing beside an hour."""
    if hour > 24:
        raise NotInForm(f"no clock shows {hour} hours")
    if 1 <= hour <= 12:
        raise NotInForm(f"'{text}' may be morning or evening")
    raise NotInForm("the minutes are missing")


def _event(text: str) -> str | None:
    """Return an event of the sky as a schedule writes it, or None."""
    found = _EVENT.fullmatch(text)
    if found is None:
        return None
    if not found[2]:
        return found[1]
    minutes = int(found[3]) * (60 if (found[4] or "").startswith("h") else 1)
    if minutes > 999:
        raise NotInForm("an offset has at most 999 minutes")
    return f"{found[1]} {found[2]} {minutes} min"


#: What stands behind an end on the next morning.
NEXT_DAY = " next day"


def time_of_day(*, is_end: bool = False, has_next_day: bool = False) -> Form:
    """Return the form of a clock time or an event of the sky."""

    def read(text: str) -> Value:
        plain = _plain(text)
        ends_next_day = has_next_day and plain.endswith(NEXT_DAY)
        plain = plain.removesuffix(NEXT_DAY) if ends_next_day else plain
        event = _event(plain)
        if event is not None and not ends_next_day:
            return event
        return _clock(plain, is_end=is_end) + (NEXT_DAY if ends_next_day else "")

    example = "21:00" if is_end else "09:00"
    words = f"a time as HH:MM, such as {example}; or an event of the sky, such as sunrise + 30 min"
    return Form(words=words, read=read)


def is_clock(value: Value | None) -> bool:
    """Return whether a time of day is one of the clock, not of the sky."""
    return isinstance(value, str) and value[:1].isdigit()


def minutes_of(clock: str) -> float:
    """Return a clock time as minutes since midnight; an end on the next day counts on."""
    parts = [int(part) for part in clock.removesuffix(NEXT_DAY).split(":")]
    minutes = parts[0] * 60 + parts[1] + (parts[2] / 60 if len(parts) > 2 else 0)
    return minutes + (24 * 60 if clock.endswith(NEXT_DAY) else 0)


def minutes(words: str, least: float, most: float, *, is_above_least: bool = False) -> Form:
    """Return the form of a length of time; hours and seconds may be said. [min]"""
    bounds = number(words, least, most, is_above_least=is_above_least)

    def read(text: str) -> Value:
        plain = _plain(text)
        both = re.fullmatch(r"(\d{1,3}) ?(?:h|hours?) ?(\d{1,2}) ?(?:m|min|minutes)?", plain)
        if both:
            total: float | None = int(both[1]) * 60.0 + int(both[2])
        else:
            total = _measured(plain, _MINUTES)
        if total is None:
            raise NotInForm
        return bounds.read(plain_number(total))

    return Form(words=bounds.words, read=read, show=_shown)


def date(*, has_time: bool = False) -> Form:
    """Return the form of a date; if ``has_time``, a time may follow it."""

    def read(text: str) -> Value:
        found = re.fullmatch(r"(\d{4}-\d{2}-\d{2})(?:[t ](\d{2}:\d{2}))?", _plain(text))
        if found is None or (found[2] and not has_time):
            raise NotInForm
        try:
            dt.datetime.fromisoformat(f"{found[1]}T{found[2] or '00:00'}")
        except ValueError:
            raise NotInForm(no_date_text(found[1])[0]) from None
        return found[1] + (f"T{found[2]}" if found[2] else "")

    return Form(words="a date as YYYY-MM-DD, such as 2027-03-02", read=read)


def band(words: str, most: float) -> Form:
    """Return the form of two numbers, the smaller one first."""

    def read(text: str) -> Value:
        plain = _plain(text).strip("[]").replace("...", "..")
        plain = re.sub(r" ?mol( m-2 d-1|/m2/d|/m2)?$", "", plain)
        found = re.fullmatch(rf"({_NUMBER}) ?(?:to|-|\.\.|;|,? ) ?({_NUMBER})", plain)
        if found is None:
            raise NotInForm("that is one number" if _measured(plain, {}) is not None else "")
        low, high = _number(found[1]), _number(found[2])
        if not 0 <= low <= high <= most:
            raise NotInForm(f"the smaller number stands first, and both are from 0 to {most:g}")
        return (low, high)

    def show(value: Value) -> str:
        low, high = value  # type: ignore[misc, str-unpack]
        return f"{_shown(low)} to {_shown(high)}"

    return Form(words=words, read=read, show=show)


#: Units of the levels between which a controller can step: the word of the schedule, and a factor.
_LEVEL_UNITS: Mapping[str, tuple[str, float]] = {
    **{word: ("percent", 1) for word in PERCENT},
    **dict.fromkeys(("mv", "millivolt", "millivolts"), ("millivolts", 1)),
    **dict.fromkeys(("v", "volt", "volts"), ("millivolts", 1000)),
    **dict.fromkeys(("code", "codes"), ("code", 1)),
}


def level_step() -> Form:
    """Return the form of a step of level: a number and its unit, as ``(unit, number)``."""

    def read(text: str) -> Value:
        found = re.fullmatch(rf"({_NUMBER}) ?([a-z%][a-z ]*)?", _plain(text))
        if found is None:
            raise NotInForm
        if found[2] not in _LEVEL_UNITS:
            raise NotInForm("say the unit: %, mV or code")
        unit, factor = _LEVEL_UNITS[found[2]]
        step = float(plain_number(_number(found[1]) * factor))
        if not 0 < step <= 10_000:
            raise NotInForm(f"{plain_number(step)} {unit} is no step")
        return (unit, plain_number(step))

    def show(value: Value) -> str:
        unit, step = value  # type: ignore[misc, str-unpack]
        return f"{step} { ({'percent': '%', 'millivolts': 'mV'}.get(str(unit), unit)) }"

    return Form(words="a number with its unit: 1 %, 20 mV or 1 code", read=read, show=show)


def tubes() -> Form:
    """Return the form of how many tubes there are, with their watts if those were said."""
    most_tubes, most_watts = 16, 500

    def read(text: str) -> Value:
        plain = _plain(text).replace("×", "x")
        found = re.fullmatch(
            rf"(\d{{1,3}}|no|none)(?: ?tubes?)?(?: ?[x*] ?({_NUMBER}) ?(?:w|watts?)?)?", plain
        )
        if found is None:
            raise NotInForm("say how many there are" if re.search(r"\dw", plain) else "")
        count = int(found[1]) if found[1].isdigit() else 0
        if count > most_tubes:
            raise NotInForm(f"{count} is more than {most_tubes}")
        if not found[2] or not count:
            return (float(count),)
        watts = _number(found[2])
        if not 0 < watts <= most_watts:
            raise NotInForm(f"{plain_number(watts)} W is not above 0 to {most_watts} W")
        return (float(count), watts)

    def show(value: Value) -> str:
        count, *watts = value  # type: ignore[misc, str-unpack]
        return _shown(count) + (f" x {_shown(watts[0])} W" if watts else "")

    return Form(
        words="how many, such as 2; or with their watts, such as 2 x 54 W", read=read, show=show
    )


def place() -> Form:
    """Return the form of a latitude and a longitude, as ``(degrees north, degrees east)``."""

    def read(text: str) -> Value:
        plain = _plain(text)
        if "." in plain and " " not in plain:
            plain = plain.replace(",", ", ")  # 38.1,-29.5: a comma between points parts two numbers
        found = re.fullmatch(
            rf"({_NUMBER}) ?°? ?([ns]?)(?: ?[;,] ?| )({_NUMBER}) ?°? ?([ew]?)", plain
        )
        if found is None or re.fullmatch(_NUMBER, plain):
            raise NotInForm
        north, east = _number(found[1]), _number(found[3])
        north *= -1 if found[2] == "s" else 1
        east *= -1 if found[4] == "w" else 1
        if abs(north) > 90 or abs(east) > 180:
            raise NotInForm("a latitude is at most 90, a longitude at most 180")
        return (north, east)

    words = "latitude and longitude in degrees, such as 38.10 N 29.50 W"
    return Form(words=words, read=read, show=_shown)


def time_zone() -> Form:
    """Return the form of the name of a time zone."""

    def read(text: str) -> Value:
        by_plain = {name.casefold(): name for name in zone_names()}
        plain = _plain(text).replace(" ", "_")
        if plain in by_plain:
            return by_plain[plain]
        ends = sorted(name for key, name in by_plain.items() if key.rpartition("/")[2] == plain)
        guess = ends[0] if ends else close_match(plain, by_plain, cutoff=0.8)
        raise NotInForm(f"did you mean {by_plain.get(str(guess), guess)}?" if guess else "")

    words = "the zone of a large town that keeps the same time, such as Atlantic/Azores"
    return Form(words=words, read=read)
