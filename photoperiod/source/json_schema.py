"""Check plain data against a JSON Schema; each fault becomes one diagnostic at its place.

No other module imports jsonschema at run time; `schema_words` words what it finds. The schemas stand
in ``schemas/`` at the top of a checkout, for editors, and inside the package in a wheel.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any, cast

import jsonschema
from jsonschema.exceptions import ValidationError

from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.source import schema_words
from photoperiod.source.hand_written import HAND_WRITTEN
from photoperiod.text import close_match, short

NAMES = (
    "schedule", "parts", "table", "summary", "manifest", "diagnostics", "ledger", "board", "comparison",
    "overview", "readings", "replay", "solve", "tubes",
)  # fmt: skip


def schema_path(name: str) -> FilePath:
    """Return the file of a schema: in the package, or in the checkout around it.

    Raises
    ------
    KeyError
        If there is no schema of that name.
    """
    if name not in NAMES:
        raise KeyError(name)
    package = FilePath(__file__).resolve().parents[1]
    file_name = f"{name}.schema.json"
    packaged = package / "schemas" / file_name
    return packaged if packaged.is_file() else package.parent / "schemas" / file_name


def schema_text(name: str) -> str:
    """Return the text of a schema."""
    return schema_path(name).read_text(encoding="utf-8")


@functools.cache
def load_schema(name: str) -> Any:
    """Return a schema as data."""
    return json.loads(schema_text(name))


def _reserved(_validator: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """Check the keyword ``x-reserved``: a place, or some of its values, kept for a later version."""
    if "message" in rule and "pattern" not in rule:
        yield ValidationError(rule["message"])
    elif isinstance(instance, str):
        if instance in rule.get("values", {}):
            yield ValidationError(rule["values"][instance])
        elif "pattern" in rule and re.match(rule["pattern"], instance):
            yield ValidationError(rule["message"])


def _pattern(_validator: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """Check the keyword ``pattern`` as ECMA-262 means it: `$` does not match before a last line end."""
    if isinstance(instance, str) and not re.search(re.sub(r"\$$", r"\\Z", rule), instance):
        yield ValidationError("does not match")


def _unique_items(_v: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """Check the keyword ``uniqueItems``; the message does not hold the whole list."""
    if rule and isinstance(instance, list):
        names = [item for item in instance if isinstance(item, str)]  # all such lists hold names
        if len(set(names)) < len(names):
            yield ValidationError("stands twice")


def _max_items(_v: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """Check the keyword ``maxItems``; the message does not hold the whole list."""
    if isinstance(instance, list) and len(instance) > rule:
        yield ValidationError("too many")


_OWN_KEYWORDS = {
    "x-reserved": _reserved,
    "pattern": _pattern,
    "uniqueItems": _unique_items,
    "maxItems": _max_items,
}

#: In a condition on the keys of a mapping: the definition of that mapping, empty for the whole schema.
OF_KEYS = "x-keys-of"

#: If a value breaks several keywords, only the first in this order is reported.
_RANK = ("x-reserved", "type", "const", "enum", "pattern")


@functools.cache
def _validator(name: str) -> Any:
    extend: Any = jsonschema.validators.extend
    schema = load_schema(name)
    refs = {f"#/$defs/{key}": definition for key, definition in schema.get("$defs", {}).items()}

    def ref(validator: Any, rule: str, instance: Any, _schema: Any) -> Iterator[ValidationError]:
        """Check the keyword ``$ref``: all ours are definitions of the same file, which are at hand."""
        yield from validator.descend(instance, refs[rule])

    kind = extend(jsonschema.Draft202012Validator, _OWN_KEYWORDS | {"$ref": ref})
    return kind(schema)


def validate(data: Any, name: str = "schedule") -> tuple[list[Diagnostic], set[Path]]:
    """Return what is wrong with the shape of the data, and the paths it makes unusable.

    Parameters
    ----------
    data : Any
        Plain data, as `photoperiod.source.document.read_text` gives it.
    name : str
        The schema to hold it against, one of `NAMES`.

    Returns
    -------
    diagnostics : list of Diagnostic
        One for each fault, without source ranges.
    bad : set of Path
        Values that a later stage must not use; a missing key is a bad path too.
    """
    if name in HAND_WRITTEN and isinstance(data, dict):
        ours = data.get("format")
        if isinstance(ours, str) and ours.startswith("photoperiod-"):
            return [_written_by_us(ours, name)], {()}
        other = _of_another_kind(data, name)
        if other is not None:
            return [other], {()}
    of_values: dict[Path, Diagnostic] = {}
    of_keys: list[Diagnostic] = []
    bad: set[Path] = set()
    key_errors: dict[Path, list[ValidationError]] = {}  # of each mapping
    for error in sorted(_validator(name).iter_errors(data), key=_order):
        path: Path = tuple(error.absolute_path)
        if error.validator in ("required", "additionalProperties"):
            key_errors.setdefault(path, []).append(error)
        elif "propertyNames" in error.absolute_schema_path:
            key_path = (*path, str(error.instance))
            bad.add(key_path)
            of_values.setdefault(key_path, schema_words.of_id(error, key_path))
        elif path not in of_values:
            of_values[path] = schema_words.of_value(error, path, name)
            bad.add(of_values[path].path)
    for path, errors in key_errors.items():
        keys = _Keys(path, errors, name)
        of_keys += keys.diagnostics(name)
        bad |= keys.bad
    return [*of_values.values(), *of_keys], bad


def _written_by_us(form: str, name: str) -> Diagnostic:
    """Return what to say of a file that we wrote where one is wanted that people write."""
    return Diagnostic(
        code="PHO203",
        path=("format",),
        message=f"this is a file that photoperiod wrote ({short(form)}), not a {name}",
        help="name the file that it was made from",
    )


def _of_another_kind(data: dict[str, Any], name: str) -> Diagnostic | None:
    """Return what to say of a file that people write where another one is wanted; None if it is none.

    It begins with its version, where a schedule has the path of its parts.
    """
    kind = next((key for key in HAND_WRITTEN if type(data.get(key)) is int), None)
    if kind is None or name in data or (kind == "parts" and "channels" in data):
        return None
    found, wanted = HAND_WRITTEN[kind], HAND_WRITTEN[name]
    return Diagnostic(
        code="PHO203",
        path=(kind,),
        on_key=True,
        message=f"this is {found.name}, not {wanted.name}",
        help=f"name {wanted.name}; {found.purpose}",
    )


def _whole(schema: dict[str, Any], name: str) -> dict[str, Any]:
    """Return the schema of a mapping, where it or a condition on its keys was broken."""
    if OF_KEYS not in schema:
        return schema
    whole: dict[str, Any] = load_schema(name)
    return cast(dict[str, Any], whole["$defs"][schema[OF_KEYS]] if schema[OF_KEYS] else whole)


def _order(error: ValidationError) -> tuple[str, str]:
    """Return the key by which errors are sorted: place, then rank."""
    keyword = str(error.validator)
    rank = _RANK.index(keyword) if keyword in _RANK else len(_RANK)
    return (str([str(step) for step in error.absolute_path]), f"{rank} {keyword}")


class _Keys:
    """The keys of one mapping that are unknown or missing.

    Parameters
    ----------
    path : Path
        The mapping.
    errors : list of ValidationError
        What ``required`` and ``additionalProperties`` say of it.
    name : str
        The schema of the whole data.
    """

    def __init__(self, path: Path, errors: list[ValidationError], name: str) -> None:
        instance: Any = errors[0].instance
        self.path, self.instance = path, instance
        self.schema = _whole(cast(dict[str, Any], errors[0].schema), name)
        self.allowed = list(self.schema.get("properties", {}))
        #: Keys of older versions, each with its new name.
        self.renamed: dict[str, str] = self.schema.get("x-renamed", {})
        self.missing: list[str] = []
        #: Those that are needed only where another key, which was probably meant, is not there.
        self.excused: list[str] = []
        #: Unknown keys, each with the key that was probably meant.
        self.unknown: dict[str, str | None] = {}
        for error in errors:
            rule: Any = error.validator_value
            if error.validator == "required":
                missing = [key for key in rule if key not in instance]
                self.missing += [key for key in missing if key not in self.missing]
                if OF_KEYS in cast(dict[str, Any], error.schema):
                    self.excused += missing
            elif not self.unknown:
                free = [key for key in self.allowed if key not in instance]
                strange = [key for key in instance if key not in self.allowed]
                self.unknown = {
                    key: self.renamed.get(key) or close_match(key, free) for key in strange
                }

    @property
    def bad(self) -> set[Path]:
        """The paths of keys that are missing, or that were probably meant by an unknown key."""
        guesses = [guess for guess in self.unknown.values() if guess]
        return {(*self.path, key) for key in (*self.missing, *guesses)}

    def diagnostics(self, name: str) -> list[Diagnostic]:
        """Return a diagnostic for each key; a misspelt key is not reported as missing too."""
        strange = [
            schema_words.of_unknown_key(
                self.path,
                key,
                guess,
                self.allowed,
                is_renamed=key in self.renamed,
                renamed_help=self._renamed_help(guess),
                decimals_of=schema_words.cut_at_comma(self.instance, key),
            )
            for key, guess in self.unknown.items()
        ]
        excused = self.excused if self._instead in self.unknown.values() else ()
        missing = [key for key in self.missing if key not in (*self.unknown.values(), *excused)]
        return strange + [
            schema_words.of_missing_key(self.path, key, self._about(key, name), name)
            for key in missing
        ]

    @property
    def _instead(self) -> str | None:
        """The key that may stand for some that are missing; None if there is none."""
        if_not: dict[str, Any] = self.schema.get("if", {}).get("not", {})
        return next(iter(if_not.get("required", ())), None)

    def _renamed_help(self, key: str | None) -> str:
        about: dict[str, Any] = self.schema.get("properties", {}).get(key, {})
        return str(about.get("x-renamed-help", ""))

    def _about(self, key: str, name: str) -> dict[str, Any]:
        """Return the schema of a key, or the definition that it refers to for its description."""
        about: dict[str, Any] = self.schema.get("properties", {}).get(key, {})
        if "$ref" in about and "description" not in about:
            definitions: dict[str, Any] = load_schema(name)["$defs"]
            about = definitions.get(about["$ref"].rsplit("/", 1)[-1], {})
        return about
