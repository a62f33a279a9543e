"""The digest of values, for a schedule that was built in Python and has no file to take it from."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

#: Fields that came later have no say while they hold what they stood for before.
_LATER: Mapping[str, object] = {
    "day_plans": {},
    "changes": (),
    "dose_rise_max": 0.25,
    "day_moves_max_s": 3600,
}


def digest_of(value: object) -> str:
    """Return the SHA-256 of a value, hexadecimal: the same on every machine and in every process.

    Fields that have no say in whether values are equal have none here.

    Raises
    ------
    TypeError
        If it holds something that is no plain value.
    """
    import hashlib  # only a schedule without a file needs it

    text = json.dumps(_plain(value), ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def digest_of_digests(digests: Iterable[str]) -> str:
    """Return the SHA-256 of some digests, one a line, hexadecimal."""
    import hashlib  # only a schedule with files of readings needs it

    return hashlib.sha256("".join(f"{each}\n" for each in digests).encode("ascii")).hexdigest()


def _plain(value: object) -> Any:
    """Return a value as what JSON can hold; order is kept where it counts and sorted where not."""
    if value is None or isinstance(value, str | int | float):
        return value
    if is_dataclass(value):
        held = [
            [f.name, _plain(getattr(value, f.name))]
            for f in fields(value)
            if f.compare and not (f.name in _LATER and getattr(value, f.name) == _LATER[f.name])
        ]
        return [type(value).__name__, held]
    if isinstance(value, Mapping):
        return [[key, _plain(inner)] for key, inner in value.items()]
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, frozenset):
        return sorted(_plain(inner) for inner in value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Fraction):
        return str(value)
    raise TypeError(f"{type(value).__name__} is no plain value")
