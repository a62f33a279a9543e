"""A second reader of `table.json`, written from docs/player.md and docs/exports.md with none of our code.

It plays a channel of a table with square-law or linear ballasts, a nominal converter, levels in percent,
lines between rows and a wrap at midnight; anything else it refuses.
"""

from __future__ import annotations

import json
from typing import Any


class PlainTable:
    """The light of one table of a file, second by second."""

    def __init__(self, raw: bytes, table: int = 0) -> None:
        self.data: dict[str, Any] = json.loads(raw)
        controller = self.data["controller"]
        assert controller["between"] == "line"
        assert controller["after_last_row"] == "wrap"
        assert controller["emits"]["unit"] == "percent"
        assert controller["emits"]["rounding"] == "half-up"
        assert controller["emits"]["every_seconds"] == 1
        assert controller["converter"]["kind"] == "nominal"
        self.controller = controller
        self.known: dict[tuple[str, int, bool], float] = {}
        self.rows = {
            id: channel["rows"] for id, channel in self.data["tables"][table]["channels"].items()
        }

    def count(self, channel: str, second: int) -> tuple[int, bool]:
        """Return the level in counts, half up, and whether the relay is closed."""
        rows = self.rows[channel]
        before = [row for row in rows if row["second"] <= second]
        row = before[-1] if before else rows[-1]
        after = next((each for each in rows if each["second"] > second), rows[0])
        length = (after["second"] - row["second"]) % 86_400 or 86_400
        passed = (second - row["second"]) % 86_400
        twice = 2 * (row["count"] * length + (after["count"] - row["count"]) * passed) + length
        return twice // (2 * length), row["relay"] != "off"

    def volts(self, count: int) -> float:
        """Return the volts of the nearest code, never above the top one."""
        converter = self.controller["converter"]
        wanted = 10.0 * count * self.controller["emits"]["step"] / 100
        code = min(int(wanted / converter["volts_per_code"] + 0.5), converter["full_code"])
        return float(code * converter["volts_per_code"])

    def light(self, channel: str, second: int) -> float:
        """Return the light given. [fraction of full]"""
        state = (channel, *self.count(channel, second))
        if state not in self.known:
            self.known[state] = self._light(*state)
        return self.known[state]

    def _light(self, channel: str, count: int, is_closed: bool) -> float:
        ballast = self.data["channels"][channel]["ballast"]
        volts = self.volts(count)
        if ballast["dark"] == "relay" and not is_closed:
            return 0.0
        assert ballast["response"] in ("square-law", "linear")
        power = 2 if ballast["response"] == "square-law" else 1
        floor, full = ballast["floor_volts"], ballast["full_volts"]
        floor_light = ballast["floor_light_percent"] / 100
        share = min(max((volts - floor) / (full - floor), 0.0), 1.0)
        low = floor_light ** (1 / power)
        return float((low + (1 - low) * share) ** power)

    def ppfd(self, zone: str, second: int) -> float:
        """Return the light in a zone, all channels together. [µmol m⁻² s⁻¹]"""
        channels = self.data["channels"]
        return sum(
            about["full_ppfd"][zone] * self.light(id, second)
            for id, about in channels.items()
            if zone in about["full_ppfd"]
        )

    def dli(self, zone: str) -> float:
        """Return the dose of a day. [mol m⁻² d⁻¹]"""
        return sum(self.ppfd(zone, second) for second in range(86_400)) / 1e6
