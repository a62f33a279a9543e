"""Faults of shape in words: what is wrong with a value, and what could stand there instead.

A fault comes as the error of jsonschema; its value, rule and schema say all that the words need.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.text import short, suggestion

if TYPE_CHECKING:
    from jsonschema.exceptions import ValidationError

_TYPE_WORDS = {
    "object": "a mapping",
    "array": "a list",
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}

_LIMIT_WORDS = {
    "minimum": "at least",
    "maximum": "at most",
    "exclusiveMinimum": "more than",
    "exclusiveMaximum": "less than",
}

#: What a keyword of size counts, one and many.
_THINGS = {
    "Length": ("character", "characters"),
    "Items": ("item", "items"),
    "Properties": ("entry", "entries"),
}

_DECIMAL_POINT = "write decimals with a point: a comma begins the next item"

#: Characters that look like a blank, a hyphen or a colon and are not.
_LOOK_ALIKES = "\u00a0‐‑‒–—−："


def of_value(error: ValidationError, path: Path, document: str) -> Diagnostic:
    """Return the diagnostic for a value that breaks a keyword of its schema.

    Parameters
    ----------
    error : ValidationError
        The fault.
    path : Path
        The value.
    document : str
        The kind of document that is read, for example ``schedule``.
    """
    keyword = str(error.validator)
    if keyword == "const":
        return _const(error, path, document)
    if keyword not in _WORDS:
        raise AssertionError(f"the schema keyword {keyword!r} has no words")
    return _WORDS[keyword](error, path)


def _reserved(error: ValidationError, path: Path) -> Diagnostic:
    rule: Any = error.validator_value
    return Diagnostic(code="PHO209", path=path, message=error.message, help=rule.get("help", ""))


def _type(error: ValidationError, path: Path) -> Diagnostic:
    rule: Any = error.validator_value
    types = rule if isinstance(rule, list) else [rule]
    wanted = " or ".join(_TYPE_WORDS.get(each, str(each)) for each in types)
    return Diagnostic(
        code="PHO203",
        path=path,
        message=f"expected {wanted}, got {describe(error.instance)}",
        help=_with_deceiver(
            _type_help(types[0], error.instance, error.schema), _written(error.instance)
        ),
    )


def _written(value: Any) -> str:
    """Return the text of a value in which a character may deceive: its own, or that of its keys."""
    if isinstance(value, dict):
        return "".join(str(key) for key in value)[:200]
    return value[:200] if isinstance(value, str) else ""


def _enum(error: ValidationError, path: Path) -> Diagnostic:
    rule: Any = error.validator_value
    return Diagnostic(
        code="PHO204",
        path=path,
        message=f"{describe(error.instance)} is not allowed here",
        help=_with_deceiver(
            suggestion(str(error.instance), [str(value) for value in rule]),
            _written(error.instance),
        ),
    )


def _const(error: ValidationError, path: Path, document: str) -> Diagnostic:
    value, rule = describe(error.instance), error.validator_value
    if path == (document,):
        return Diagnostic(
            code="PHO210",
            path=path,
            message=f"this is version {value} of the language, not {rule}",
            help="upgrade this program if it is a newer version; else write the file anew by the pages of"
            f" version {rule}, because the same words may mean other light, and begin it with"
            f" `{document}: {rule}`",
        )
    return Diagnostic(code="PHO204", path=path, message=f"expected {rule!r}, got {value}")


def _limit(error: ValidationError, path: Path) -> Diagnostic:
    schema: Any = error.schema
    if error.validator == "maximum" and "x-above" in schema:
        above = schema["x-above"]
        message = f"{error.instance} {above['message']}"
        return Diagnostic(code="PHO205", path=path, message=message, help=above["help"])
    limit = f"{_LIMIT_WORDS[str(error.validator)]} {error.validator_value}"
    unit = f" {schema['x-unit']}" if "x-unit" in schema else ""
    return Diagnostic(
        code="PHO205",
        path=path,
        message=f"{error.instance} is out of range: {limit}{unit}",
        help=_range_help(schema),
    )


def _range_help(schema: Any) -> str:
    """Return the range of a number that has two ends, and what the number is."""
    about = str(schema.get("description", ""))
    low = schema.get("minimum", schema.get("exclusiveMinimum"))
    high = schema.get("maximum", schema.get("exclusiveMaximum"))
    if low is None or high is None:
        return about
    from_ = "from" if "minimum" in schema else "above"
    to = "to" if "minimum" in schema and "maximum" in schema else "and"
    below = "" if "maximum" in schema else "below "
    if not below and from_ == "above":
        below = "at most "
    unit = f" {schema['x-unit']}" if "x-unit" in schema else ""
    allowed = f"write a value {from_} {low:,} {to} {below}{high:,}{unit}"
    return f"{allowed}. {about.split(' Unit:')[0]}" if about else allowed


def _pattern(error: ValidationError, path: Path) -> Diagnostic:
    schema: Any = error.schema
    text = str(error.instance)[:200]
    near = _near_form(text, str(schema.get("pattern", "")))
    form = str(schema.get("patternErrorMessage", ""))
    help = _with_deceiver("; ".join(filter(None, (near, form))), text)
    return Diagnostic(
        code="PHO206",
        path=path,
        message=f"{describe(error.instance)} does not have the right form",
        help=help,
    )


def _near_form(text: str, pattern: str) -> str:
    """Return how a time is written that is nearly in the form of a pattern; empty for other text."""
    event = re.fullmatch(
        r"((?:(?:civil|nautical|astronomical) )?[a-z]+) ?([+-]) ?([0-9]{1,3}) ?(?:min\w*)?", text
    )
    if event and event[1].split()[-1] in ("sunrise", "sunset", "noon", "dawn", "dusk"):
        return f"write `{event[1]} {event[2]} {event[3]} min`"
    late = re.fullmatch(r"(2[4-9]|3[0-9])(:[0-5][0-9])(?::[0-5][0-9])?", text)
    if late and "24:00" in pattern and not text.startswith("24:00"):  # only an end can be meant so
        clock = f"{int(late[1]) - 24:02d}{late[2]}"
        return (
            f"a clock shows {clock}: write that; a `day` that ends after midnight also needs"
            " `ends_next_day: true`"
        )
    return ""


def _with_deceiver(help: str, text: str) -> str:
    """Return a help that also names the first character of a text that looks like another, or like none."""
    alike = [c for c in text if c in _LOOK_ALIKES]
    unseen = [c for c in text if (c.isspace() and c != " ") or not c.isprintable()]
    if not alike and not unseen:
        return help
    what = "only looks alike" if alike else "can't be seen"
    said = f"it holds the character U+{ord((alike or unseen)[0]):04X}, which {what}"
    return f"{help}; {said}" if help else said


def _size(error: ValidationError, path: Path) -> Diagnostic:
    keyword, limit, value = str(error.validator), error.validator_value, error.instance
    size = len(value)  # type: ignore[arg-type]
    one, many = _THINGS[keyword[3:]]
    is_are = "is" if limit == 1 else "are"
    rule = (
        f"at least {limit} {is_are} needed"
        if keyword.startswith("min")
        else f"at most {limit} {is_are} allowed"
    )
    return Diagnostic(
        code="PHO207",
        path=path,
        message=f"{size} {one if size == 1 else many}, but {rule}",
        help=_DECIMAL_POINT if keyword == "maxItems" and _are_whole(value) else "",
    )


def _are_whole(items: Any) -> bool:
    """Return whether all items are whole numbers, as decimal commas in a list make them."""
    return all(isinstance(item, int) and not isinstance(item, bool) for item in items)


def _unique(error: ValidationError, path: Path) -> Diagnostic:
    items: Any = error.instance
    index = _second(items)
    return Diagnostic(
        code="PHO208",
        path=(*path, index),
        message=f"{describe(items[index])} stands twice in this list" if items else "",
        help="remove one of the two, or write the one that you meant",
        related=(Related(message="first here", path=(*path, items.index(items[index]))),),
    )


_WORDS: dict[str, Callable[[ValidationError, Path], Diagnostic]] = {
    "x-reserved": _reserved,
    "type": _type,
    "enum": _enum,
    "pattern": _pattern,
    "uniqueItems": _unique,
    **dict.fromkeys(_LIMIT_WORDS, _limit),
    **{f"{side}{things}": _size for side in ("min", "max") for things in _THINGS},
}


def of_id(error: ValidationError, path: Path) -> Diagnostic:
    """Return the diagnostic for a key that the file chooses itself and that is no id."""
    schema: Any = error.schema
    return Diagnostic(
        code="PHO206",
        path=path,
        on_key=True,
        message=f"'{short(error.instance)}' is no id",
        help=str(schema.get("patternErrorMessage", "")),
    )


def of_unknown_key(
    path: Path,
    key: str,
    guess: str | None,
    allowed: list[str],
    *,
    is_renamed: bool = False,
    renamed_help: str = "",
    decimals_of: tuple[str, int] | None = None,
) -> Diagnostic:
    """Return the diagnostic for a key that a mapping can't have.

    ``guess`` is the key that was probably meant, if any; if ``is_renamed``, it is the key's new name, and
    ``renamed_help`` says what is written there now, if that is something else.
    ``decimals_of`` is what `cut_at_comma` returns for the key.
    """
    if decimals_of:
        before, whole = decimals_of
        help = f"write decimals with a point: `{before}: {whole}.{short(key)}`"
    elif is_renamed:
        help = f"this key is called '{guess}' now" + (f": {renamed_help}" if renamed_help else "")
    else:
        help = f"did you mean '{guess}'?" if guess else suggestion(key, allowed)
    return Diagnostic(
        code="PHO201",
        path=(*path, key),
        on_key=True,
        message=f"unknown key '{short(key)}'",
        help=_with_deceiver(help, key[:200]),
    )


def cut_at_comma(mapping: dict[str, Any], key: str) -> tuple[str, int] | None:
    """Return the key and whole number that a decimal comma cut off before a key, None if none did.

    ``{volts: 1,0}`` is ``volts: 1`` and a key ``0`` without a value: inside braces a comma ends an entry.
    """
    if not re.fullmatch("[0-9]{1,6}", key) or mapping[key] is not None:
        return None
    keys = list(mapping)
    place = keys.index(key)
    if place == 0:
        return None
    value = mapping[keys[place - 1]]
    is_whole = isinstance(value, int) and not isinstance(value, bool)
    return (keys[place - 1], value) if is_whole else None


def of_missing_key(path: Path, key: str, about: dict[str, Any], document: str) -> Diagnostic:
    """Return the diagnostic for a key that a mapping must have; ``about`` is the key's schema."""
    if not path:
        where = "the file of parts" if document == "parts" else f"the {document}"
    else:
        where = f"'{short(path[-1])}'" if isinstance(path[-1], str) else "this item"
    return Diagnostic(
        code="PHO202",
        path=path,
        on_key=True,
        message=f"{where} lacks '{key}'",
        help=_what_is(key, about),
    )


def _what_is(key: str, about: dict[str, Any]) -> str:
    """Return what a key means, and its kinds or values if they are few."""
    text = f"{key}: {about.get('description', '')}"
    kinds = about.get("properties", {}).get("kind", {}).get("enum", about.get("enum", []))
    return text + (f" One of: {', '.join(map(str, kinds))}." if kinds else "")


def _second(items: list[Any]) -> int:
    """Return the index of the first name that stands in a list for the second time."""
    seen: set[str] = set()
    for index, item in enumerate(items):
        if isinstance(item, str):
            if item in seen:
                return index
            seen.add(item)
    return 0


def _type_help(wanted: str, value: Any, schema: Any) -> str:
    """Return how to write a value of the wanted type; empty if there is nothing to say."""
    match wanted:
        case "number" | "integer":
            return _number_help(value, schema)
        case "string" if "patternErrorMessage" in schema:
            return str(schema["patternErrorMessage"])
        case "string" if value is not None and not isinstance(value, dict | list):
            return "put it into quotes if it is meant as text"
        case "object" if schema.get("required") == ["kind"]:
            kinds = schema["properties"]["kind"]["enum"]
            return f"write `{{kind: …}}` with one of {', '.join(kinds)}"
        case "object":
            keys = list(schema.get("required", ())) or list(schema.get("properties", ()))[:4]
            return f"a mapping with {', '.join(keys)}" if keys else "write `name: {…}` entries"
        case "array" if "examples" in schema:
            return f"write a list, such as {schema['examples'][0]}"
        case "array":
            return "write `[…]`, or lines that begin with '- '"
        case "boolean":
            return "write true or false"
    return ""


def _number_help(value: Any, schema: Any) -> str:
    """Return how to write a number, for text that looks like one."""
    if isinstance(value, str) and re.match(r"[-+]?[0-9]+,[0-9]+$", value):
        return f"write it with a decimal point: {value.replace(',', '.')}"
    if isinstance(value, str) and re.match(r"[-+]?[0-9.,]+\s*\S{0,12}$", value):
        unit = schema.get("x-unit")
        return "write the number alone" + (f", in {unit}" if unit else "")
    if value is None:
        return "write a number after the colon"
    return "write it in digits, such as 2" if isinstance(value, str) else ""


def describe(value: Any) -> str:
    """Return what a message calls a value."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, str):
        return f"'{short(value)}'"
    return str(value)
