"""Draws of changes over dates that do not contradict each other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from tests.drawn.days import Days
from tests.drawn.dice import Dice


def draw_changes(dice: Dice, data: dict[str, Any], days: Days, first: dt.date, length: int) -> None:
    """Write changes, and the day plans that they use, into a schedule."""
    channels: Mapping[str, Any] = data["channels"]
    by_day = [id for id, channel in channels.items() if "day" in channel]
    made: list[dict[str, Any]] = []

    def date(low: int = -2) -> str:
        return (first + dt.timedelta(days=dice.randint(low, length - 1))).isoformat()

    kinds = dice.sample(
        ("acclimation", "dark-days", "moved-hours", "other-day", "part-out"),
        dice.pick({1: 5, 2: 3, 3: 1}),
    )
    if "other-day" in kinds and "acclimation" in kinds:
        kinds.remove(dice.pick(("other-day", "acclimation")))
    for kind in kinds:
        if kind == "acclimation" and by_day:
            made.append(_acclimation(dice, data, by_day, date()))
        elif kind == "dark-days":
            change = {"kind": kind, "from_date": date(), "days": dice.randint(1, 3)}
            _some(dice, change, list(channels))
            if dice.chance(0.3):
                change["keep_moonlight"] = dice.chance(0.7)
            made.append(change)
        elif kind == "moved-hours":
            change = {"kind": kind, "from_date": date(), "minutes_per_day": dice.pick((10, 15, 30, 60, 7)),
                      "minutes": dice.pick((-60, 30, 60, 120, -15))}  # fmt: skip
            if dice.chance(0.2):
                change["every_days"] = dice.pick((1, 2, 7))
            _some(dice, change, list(channels))
            made.append(change)
        elif kind == "other-day":
            chosen = dice.sample(list(channels), dice.randint(1, len(channels)))
            data["day_plans"] = {"winter": {id: days.light_of_day() for id in chosen}}
            change = {"kind": kind, "from_date": date(), "day_plan": "winter"}
            if dice.chance(0.5):
                change["days"] = dice.randint(1, 3)
            made.append(change)
        elif kind == "part-out":
            made.append(_part(dice, channels, date()))
    if made:
        data["changes"] = made


def _some(dice: Dice, change: dict[str, Any], ids: Sequence[str]) -> None:
    if dice.chance(0.4):
        change["channels"] = dice.sample(ids, dice.randint(1, len(ids)))


def _acclimation(
    dice: Dice, data: Mapping[str, Any], by_day: list[str], date: str
) -> dict[str, Any]:
    change: dict[str, Any] = {
        "kind": "acclimation",
        "from_date": date,
        "over_days": dice.pick((2, 4, 7, 28)),
        "from_dose_percent": dice.pick((40, 60, 80, 95)),
    }
    if dice.chance(0.3):
        change["course"] = dice.pick(("linear", "geometric"))
    if dice.chance(0.5):
        change["every_days"] = dice.pick((1, 2, 7))
    lit = {
        zone
        for id in by_day
        for zone, ppfd in data["channels"][id].get("full_ppfd", {}).get("zones", {}).items()
        if ppfd
    }
    if dice.chance(0.3) and lit:
        change["zones"] = dice.sample(sorted(lit), dice.randint(1, len(lit)))
    elif dice.chance(0.3):
        change["channels"] = dice.sample(by_day, dice.randint(1, len(by_day)))
    return change


def _part(dice: Dice, channels: Mapping[str, Any], date: str) -> dict[str, Any]:
    change: dict[str, Any] = {"kind": "part-out", "from_date": date}
    id = dice.pick(list(channels))
    tubes = channels[id].get("tubes")
    if tubes and dice.chance(0.7):
        change |= {"tube": dice.pick(tubes), "ballast": dice.pick(("stops", "goes-on"))}
    else:
        change |= {"channel": id, "ballasts": dice.randint(1, channels[id].get("ballast_count", 1))}
    if dice.chance(0.4):
        change["days"] = dice.randint(1, 4)
    return change
