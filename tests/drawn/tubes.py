"""Draws of tubes: old ones and new ones, with burn-in, loss and places that they follow each other in."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from typing import Any

from tests.drawn.dice import Dice

#: A file of readings of one place over months: two per cent within each thousand hours.
SERIES = "date,lit_hours,ppfd_umol_m2_s\n" + "".join(
    f"2026-{month:02}-10,{300 * month - 100},{140 * 0.98 ** (0.3 * month - 0.2) + wobble:.1f}\n"
    for month, wobble in zip(
        range(1, 12), (0, 0.3, -0.2, 0.1, -0.3, 0.2, 0, 0.1, -0.1, 0.2, -0.2), strict=True
    )
)


class Tubes:
    """Draws the tubes of channels."""

    def __init__(self, dice: Dice, first: dt.date | None, *, has_costs: bool) -> None:
        self.dice, self.first, self.has_costs = dice, first, has_costs
        self.made: dict[str, dict[str, Any]] = {}
        self.files: dict[str, bytes] = {}

    def for_channel(self, id: str, ballast: Mapping[str, Any], count: int) -> list[str]:
        """Return the ids of some new tubes of a channel."""
        dice = self.dice
        watts = ballast.get("watts", {}).get("full", 0) * count
        places = dice.pick({1: 3, 2: 4, 3: 1, 4: 1})
        each = round(min(max(watts * dice.uniform(0.7, 1.25) / places, 4), 500), 1) if watts else 54
        names = []
        for number in range(places):
            line = dice.chance(0.25) and self.first is not None
            if line:
                old = self._tube(f"{id}-{number}-old", each, is_new=False, may_owe=False)
                old["fitted"] = (
                    self._first - dt.timedelta(days=dice.randint(200, 900))
                ).isoformat()
                old["place"] = f"{id}-{number}"
                names.append(f"{id}-{number}-old")
            tube = self._tube(
                f"{id}-{number}",
                each,
                is_new=line or dice.chance(0.4),
                may_owe=ballast["dark"]["kind"] != "never",
            )
            if line:
                tube["place"] = f"{id}-{number}"
                if "fitted" not in tube:
                    tube["fitted"] = self._first.isoformat()
                if dice.chance(0.3):
                    self.made[f"{id}-{number}-old"]["removed"] = tube["fitted"]
            names.append(f"{id}-{number}")
        return names

    @property
    def _first(self) -> dt.date:
        return self.first or dt.date(2027, 3, 1)

    def _tube(self, id: str, watts: float, *, is_new: bool, may_owe: bool) -> dict[str, Any]:
        dice = self.dice
        made: dict[str, Any] = {"watts": watts}
        dice.label(made, 0.05)
        if is_new:
            if dice.chance(0.8):
                day = self._first + dt.timedelta(days=dice.randint(-3, 3))
                made["fitted"] = day.isoformat() + (
                    f"T{dice.randint(0, 23):02}:{dice.pick((0, 30)):02}" if dice.chance(0.5) else ""
                )
            if may_owe and dice.chance(0.7):
                made["burn_in_full_hours"] = dice.pick((6, 12, 12, 24, 100, dice.number(0, 30)))
        elif dice.chance(0.8):
            made["fitted"] = (self._first - dt.timedelta(days=dice.randint(10, 400))).isoformat()
            if dice.chance(0.3):
                made["lit_hours"] = dice.randint(0, 9000)
        if dice.chance(0.5):
            made["replace_after_hours"] = dice.pick((9000, 20000, 12000))
        if dice.chance(0.3):
            made["replace_after_months"] = dice.pick((9, 12, 6.5))
        if dice.chance(0.1):
            made["replace_below_percent"] = dice.pick((85, 90))
        if dice.chance(0.6):
            made["depreciation"] = self._loss()
        if dice.chance(0.1):
            made["light_share"] = dice.pick((0.5, 1, 2))
        if self.has_costs and dice.chance(0.6):
            made["price"] = dice.pick((0, 12, 16.5, 1500))
        self.made[id] = made
        return made

    def _loss(self) -> dict[str, Any]:
        dice = self.dice
        kind = dice.pick({"exponential": 5, "points": 3, "series": 0.4})
        if kind == "exponential":
            return {"kind": kind, "loss_percent_per_1000_h": dice.pick((0, 1.4, 2, 5, 20))}
        if kind == "series":
            self.files["readings/series.csv"] = SERIES.encode()
            made: dict[str, Any] = {"kind": kind, "readings": "readings/series.csv"}
            if dice.chance(0.4):
                made["readings_sha256"] = hashlib.sha256(SERIES.encode()).hexdigest()
            return made
        hours = sorted(dice.sample(range(100, 20000, 100), dice.randint(2, 4)))
        light = sorted((dice.number(60, 100, 1) for _ in hours), reverse=True)
        points = [{"lit_hours": h, "light_percent": p} for h, p in zip(hours, light, strict=True)]
        if dice.chance(0.4):
            points.insert(0, {"lit_hours": 0, "light_percent": dice.pick((100, 106, 112))})
        return {"kind": kind, "points": points}
