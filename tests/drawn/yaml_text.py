"""A schedule as text: JSON, or YAML as people write it, in blocks and in braces."""

from __future__ import annotations

import json
import re
from typing import Any

from tests.drawn.dice import Dice

#: Text that needs no quotes: ids, dates, times, events of the sky.
PLAIN = re.compile(
    r"[a-z][a-z0-9]*(?:[ -][a-z0-9+-]+)*"
    r"|[0-9]{4}-[0-9]{2}-[0-9]{2}(?:T[0-9]{2}:[0-9]{2})?|[0-9]{2}:[0-9]{2}(?::[0-9]{2})?"
)

#: Words that YAML reads as something else than text, or that some readers do.
NOT_PLAIN = frozenset({"null", "true", "false", "yes", "no", "on", "off", "y", "n"})


def yaml_text(data: dict[str, Any], dice: Dice) -> str:
    """Return a schedule as text; a fifth of all is JSON, which is YAML, too."""
    if dice.chance(0.2):
        return json.dumps(data, ensure_ascii=False, indent=dice.pick((None, 1, 2)))
    lines: list[str] = ["# drawn by chance"] if dice.chance(0.5) else []
    _block(data, 0, lines, dice)
    return "\n".join(lines) + "\n"


def _block(data: Any, depth: int, lines: list[str], dice: Dice) -> None:
    indent = "  " * depth
    items = data.items() if isinstance(data, dict) else ((None, each) for each in data)
    for key, value in items:
        begin = f"{indent}-" if key is None else f"{indent}{key}:"
        if isinstance(value, (dict, list)) and not _is_small(value, dice):
            lines.append(begin)
            _block(value, depth + 1, lines, dice)
        else:
            comment = "  # as it is" if dice.chance(0.02) else ""
            lines.append(f"{begin} {_flow(value, dice)}{comment}")


def _is_small(value: Any, dice: Dice) -> bool:
    """Return whether a part is written in braces."""
    if not value:
        return True
    inner = value.values() if isinstance(value, dict) else value
    depth = sum(isinstance(each, (dict, list)) for each in inner)
    return (depth == 0 and dice.chance(0.7)) or (depth <= 2 and dice.chance(0.2))


def _flow(value: Any, dice: Dice) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(each, dice)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(each, dice) for each in value) + "]"
    if isinstance(value, str) and value not in NOT_PLAIN and PLAIN.fullmatch(value):
        quotes = dice.pick({"": 6, '"': 1, "'": 1})
        return f"{quotes}{value}{quotes}"
    return json.dumps(value, ensure_ascii=False)
