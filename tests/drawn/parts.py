"""Draws of a file of parts: some of what a schedule says stands there instead."""

from __future__ import annotations

import copy
from typing import Any

from tests.drawn.dice import Dice
from tests.drawn.yaml_text import yaml_text

#: Where the file stands, from the folder of the schedule.
PARTS = "parts/hall.yaml"

#: What the tubes and the zones of a kind share.
OF_TUBES = ("watts", "replace_after_hours", "replace_after_months", "replace_below_percent",
            "depreciation", "light_share", "price")  # fmt: skip
OF_ZONES = ("dli", "ppfd_max", "ek_ppfd", "ppfd_rise_per_minute_max", "dark_hours_min",
            "peak_rise_percent_max", "dose_rise_percent_max", "day_moves_minutes_max")  # fmt: skip


def share(dice: Dice, data: dict[str, Any]) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Return what a schedule says itself, and the file of parts that says the rest.

    Files of readings are named from the folder of the file that names them: what names one stays.
    """
    own: dict[str, Any] = copy.deepcopy(data)
    parts: dict[str, Any] = {"parts": 1}
    for key in ("controller", "ballasts"):
        if dice.chance(0.7) and "readings" not in repr(own[key]):
            parts[key] = own.pop(key)
    for key, kinds, shared in (
        ("tubes", "tube_kinds", OF_TUBES),
        ("zones", "zone_kinds", OF_ZONES),
    ):
        for id, part in own.get(key, {}).items():
            kind = {each: part[each] for each in shared if each in part}
            if not kind or "readings" in repr(kind) or dice.chance(0.3):
                continue
            parts.setdefault(kinds, {})[f"like-{id}"[:40]] = kind
            own[key][id] = {"like": f"like-{id}"[:40]} | {
                each: value for each, value in part.items() if each not in kind
            }
    if len(parts) == 1:
        return data, {}
    own = {"schedule": own.pop("schedule"), "parts": PARTS} | own
    return own, {PARTS: yaml_text(parts, dice).encode()}
