"""Draws of controllers, converters and ballasts that fit each other."""

from __future__ import annotations

from typing import Any

from tests.drawn.dice import Dice

#: Time steps in minutes, most of them coarse, as few of the fine ones take seconds to fit.
TIME_STEPS = {
    5: 12, 10: 16, 15: 28, 30: 16, 60: 8, 20: 6, 6: 2, 2: 1, 1: 2, 7.5: 1, 90: 1, 120: 0.5,
    720: 0.2, 0.5: 0.1, 0.25: 0.06, 0.2: 0.05, 0.1667: 0.05, 0.0833: 0.03, 0.0167: 0.02,
}  # fmt: skip

#: Steps of levels by their unit.
LEVEL_STEPS: dict[str, dict[float, float]] = {
    "percent": {1: 40, 2: 12, 5: 10, 0.5: 8, 10: 3, 2.5: 3, 0.25: 2, 0.1: 0.7, 0.05: 0.1, 4: 2},
    "millivolts": {100: 10, 50: 6, 200: 6, 500: 2, 20: 2, 10: 0.5, 125: 2, 5: 0.05},
    "code": {1: 4, 2: 2, 4: 2, 16: 2, 3: 1},
}

#: Rows that a controller holds.
ROWS = {
    3: 1,
    4: 2,
    5: 3,
    6: 6,
    7: 4,
    8: 12,
    9: 3,
    10: 14,
    12: 16,
    14: 4,
    16: 8,
    20: 4,
    24: 3,
    32: 1,
    40: 0.5,
}

#: Whole seconds of a time step, which the file gives in minutes with few decimals.
FINE_STEPS_S = {0.1667: 10, 0.0833: 5, 0.0167: 1}


def step_seconds(minutes: float) -> int:
    """Return the seconds of a time step."""
    return FINE_STEPS_S.get(minutes, round(minutes * 60))


class Hardware:
    """A controller and its ballasts, drawn so that they can serve each other."""

    def __init__(self, dice: Dice, channels: int, *, has_place: bool) -> None:
        self.dice = dice
        self.bits = dice.pick(
            {6: 1, 7: 1, 8: 4, 9: 1, 10: 6, 11: 1, 12: 10, 13: 0.5, 14: 1, 16: 1.5}
        )
        self.relay = dice.pick({"column": 6, "follows-level": 2, "none": 2})
        self.most_volts = dice.pick({10.0: 20, 9.5: 1, 8.0: 0.5})
        self.level_volts = 0.1
        self.controller = self._controller(channels, has_place)
        self.ballasts = {f"kind-{n}": self._ballast() for n in range(dice.pick({1: 6, 2: 3, 3: 1}))}
        self._close_relay()

    @property
    def step_s(self) -> int:
        """The grid of times. [s]"""
        return step_seconds(self.controller.get("time_step_minutes", 1))

    def _controller(self, channels: int, has_place: bool) -> dict[str, Any]:
        dice = self.dice
        clocks = {"standard": 6, "civil": 3, "utc": 1}
        made: dict[str, Any] = {"clock": dice.pick(clocks)}
        dice.label(made)
        if dice.chance(0.5):
            made["channels"] = channels + dice.pick((0, 0, 0, 1, 2))
        made["setpoints_per_channel"] = dice.pick(ROWS)
        if channels > 1 and dice.chance(0.1):
            made["shared_times"] = True
        elif dice.chance(0.05):
            made["shared_times"] = False
        if dice.chance(0.1):
            made["dose_within_percent"] = dice.pick((0, 0.1, 0.5, 2, 10, 100))
        if dice.chance(0.3):
            made["tables"] = dice.pick((1, 2, 4, 12, 100, 366))
        if dice.chance(0.4):
            made["loaded_by"] = dice.pick(("hand", "file"))
        if dice.chance(0.985):
            made["time_step_minutes"] = dice.pick(TIME_STEPS)
        step_s = step_seconds(made.get("time_step_minutes", 1))
        fine = step_s < 60
        made["between"] = dice.pick({"line": 8, "hold": 1.5})
        made["after_last_row"] = dice.pick({"wrap": 7, "hold": 3})
        if dice.chance(0.2):
            made["soft_start_minutes"] = dice.pick((0, 5, 30, 240))
        made["relay"] = {"kind": self.relay}
        if dice.chance(0.95):
            made["emits"] = self._emits(step_s, is_coarse=fine)
        made["converter"] = self.converter()
        if made.get("emits", {}).get("unit") == "code":  # up to 3 % more where it was measured
            self.level_volts = 1.03 * self.full_scale * made["emits"]["step"] / 2**self.bits
        if self.most_volts != 10.0 or dice.chance(0.4):
            made["port"] = {"most_volts": self.most_volts}
            if dice.chance(0.6):
                made["port"]["sink_milliamps"] = dice.pick((1, 4, 10, 20, 100))
        return made

    def _emits(self, step_s: int, *, is_coarse: bool) -> dict[str, Any]:
        dice = self.dice
        unit = dice.pick({"percent": 7, "millivolts": 2, "code": 1})
        step: float
        if unit == "code":
            step = dice.pick(LEVEL_STEPS[unit]) * max(
                2 ** (self.bits - dice.pick({7: 8, 8: 4, 10: 1, 12: 0.2, 16: 0.02})), 1
            )
        else:
            steps = {s: w for s, w in LEVEL_STEPS[unit].items() if not is_coarse or w > 1}
            step = dice.pick(steps)
            self.level_volts = step / (10 if unit == "percent" else 1000)
        made: dict[str, Any] = {"unit": unit, "step": step}
        if dice.chance(0.6):
            divisors = [s for s in (1, 1, 1, 2, 5, 10, 30, 60, 300, 900, 3600) if step_s % s == 0]
            made["every_seconds"] = dice.pick(divisors)
        if dice.chance(0.8):
            made["rounding"] = dice.pick({"half-up": 5, "down": 2, "toward-last-row": 2})
        return made

    def converter(self, near_volts: float | None = None) -> dict[str, Any]:
        """Return a converter of the controller's bits; near another's full scale if that is given."""
        dice, last = self.dice, 2**self.bits - 1
        kind = dice.pick({"nominal": 7, "two-point": 2, "measured": 1.5})
        if near_volts is not None:
            kind = dice.pick(("two-point", "measured"))
        self.full_scale = near_volts or dice.pick(
            {10.0: 10, 10.24: 3, 10.5: 2, 9.8: 1, 12.0: 1, 11.0: 1}
        )
        if kind == "nominal":
            return {"kind": kind, "bits": self.bits, "full_scale_volts": self.full_scale}
        count = 2 if kind == "two-point" else dice.randint(2, 5)
        at = sorted(dice.sample(range(1, 12), count))
        codes = [max(round(last * each / 12), n + 1) for n, each in enumerate(at)]
        offset, gain = dice.uniform(-0.05, 0.08), dice.uniform(0.98, 1.03)
        volts, points = 0.0, []
        for code in codes:
            bend = dice.uniform(0, 0.004) if kind == "measured" else 0.0
            wanted = offset + gain * self.full_scale * code / 2**self.bits + bend
            volts = max(round(wanted, 3), round(volts + 0.01, 3), 0.0)
            points.append({"code": code, "volts": volts})
        return {"kind": kind, "bits": self.bits, "points": points}

    def _ballast(self) -> dict[str, Any]:
        dice = self.dice
        # A relay that follows the level needs a floor of a step or more; some ports start above 0 V.
        low = max(0.4, self.level_volts) + 0.15
        floor_volts = dice.number(low, max(low + 0.2, dice.pick((1.2, 2.0, 3.0))), 2)
        floor_light = dice.pick((0.1, 0.5, 1, 1, 1, 3, 5, 10, 20, dice.number(0.2, 15)))
        top = min(self.most_volts, self.full_scale * (1 - 2.0**-self.bits) * 0.97)
        full_volts = (
            dice.pick({10.0: 8, 9.0: 1, 8.0: 1})
            if top > 9 or dice.chance(0.1)
            else min(dice.number(6, 7), 10)
        )
        full_volts = max(full_volts, floor_volts + 1)
        made: dict[str, Any] = {}
        dice.label(made)
        made["response"] = self._response(floor_volts, floor_light, full_volts)
        made["floor"] = {"volts": floor_volts, "light_percent": floor_light}
        made["full_volts"] = full_volts
        made["dark"] = self._dark(floor_volts)
        if made["dark"]["kind"] != "never" and dice.chance(0.85):
            made["below_floor"] = dice.pick({"nearest": 4, "dark": 2, "floor": 2})
        if dice.chance(0.15):
            made["control_milliamps"] = dice.pick((0.5, 1, 2, 5, 10))
        if dice.chance(0.5):
            full = dice.pick((24, 58, 80, 120, 400))
            made["watts"] = {"full": full, "floor": round(full * dice.uniform(0, 0.4), 1)}
            if dice.chance(0.6):
                made["watts"]["dark"] = dice.pick((0, 0.3, 0.5, 2))
        return made

    def _response(
        self, floor_volts: float, floor_light: float, full_volts: float
    ) -> dict[str, Any]:
        dice = self.dice
        kind = dice.pick({"linear": 3, "square-law": 4, "log-law": 2, "measured": 2})
        made: dict[str, Any] = {"kind": kind}
        if kind == "measured":
            count = dice.randint(0, 6)
            inner = sorted({dice.number(floor_volts, full_volts, 2) for _ in range(count)})
            inner = [v for v in inner if floor_volts < v < full_volts]
            lights = sorted(dice.number(floor_light, 100, 1) for _ in inner)
            if len(lights) > 2 and dice.chance(0.3):  # a dip that is levelled, and a dead zone
                lights[1] = max(lights[0] - 0.4, 0.1) if dice.chance(0.5) else lights[0]
                lights[1] = round(lights[1], 2)
            points = [
                (floor_volts, floor_light),
                *zip(inner, lights, strict=True),
                (full_volts, 100),
            ]
            made["points"] = [{"volts": v, "light_percent": p} for v, p in points]
        return made

    def _dark(self, floor_volts: float) -> dict[str, Any]:
        dice = self.dice
        kinds = {"relay": 6.0, "standby": 3.0, "never": 0.25}
        if self.relay == "none":
            kinds.pop("relay")
        kind = dice.pick(kinds)
        if kind != "standby":
            return {"kind": kind}
        made: dict[str, Any] = {"kind": kind, "below_volts": dice.number(0.25, floor_volts, 2)}
        if dice.chance(0.3):
            made["keeps_mains"] = dice.chance(0.7)
        return made

    def _close_relay(self) -> None:
        """Let a relay that follows the level close at one that suits all ballasts."""
        if self.relay != "follows-level":
            return
        floors = [b["floor"]["volts"] for b in self.ballasts.values()]
        # A step of codes is that of the volts that a measured converter gives: a little more than it seems.
        low, high = self.level_volts * 10 * 1.1 + 1, min(floors) * 10
        self.controller["relay"]["on_level_percent"] = (
            self.dice.number(min(low, high), high, 1) if high - low > 0.2 else high
        )
