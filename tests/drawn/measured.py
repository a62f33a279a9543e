"""Draws of what files beside a schedule tell: what channels give, how a ballast answers, their spectra."""

from __future__ import annotations

import hashlib
from typing import Any

from tests.drawn import readings
from tests.drawn.days import most_percent
from tests.drawn.dice import Dice

#: The file of a map of light.
MAP = "readings/map.csv"


def measure(dice: Dice, data: dict[str, Any], zones: list[str]) -> dict[str, bytes]:
    """Let files tell some of a schedule that else is written in it; return them by their names."""
    match dice.pick({"map": 7, "sweep": 2, "spectrum": 1, "illuminant": 0.4}):
        case "map":
            return _map(dice, data, zones)
        case "sweep":
            return _sweep(dice, data)
        case "spectrum":
            return _spectrum(dice, data)
    for channel in data["channels"].values():
        channel["spectrum"] = {"kind": "illuminant", "name": dice.pick(("FL11", "LED-B3"))}
    return {}


def _map(dice: Dice, data: dict[str, Any], zones: list[str]) -> dict[str, bytes]:
    channels = data["channels"]
    what = dice.pick({"zones": 3, "places": 3, "lux": 1})
    if what == "places":
        text = readings.map_by_places(dice, list(channels))
        for at, zone in enumerate(zones):
            data["zones"][zone]["extent"] = readings.extent(dice, at)
    else:
        text = readings.map_by_zones(dice, zones, list(channels), is_lux=what == "lux")
    for channel in channels.values():
        full: dict[str, Any] = {"readings": MAP}
        if dice.chance(0.2):
            full["readings_sha256"] = _sha256(text)
        if what == "lux":
            full["lux_per_umol"] = dice.pick((50, 60, 76.04))
        if what == "places" and dice.chance(0.3):
            full["water_change_per_m"] = dice.pick((0.05, -0.1))
        if what == "places" and dice.chance(0.3):
            full["beyond_readings"] = dice.pick(("refuse", "fall-off"))
        channel["full_ppfd"] = full
    for zone in zones:
        about = data["zones"][zone]
        about.pop("ppfd_max", None)
        if dice.chance(0.5):
            about["ppfd_max"] = dice.pick((150, 400, 900))
        if dice.chance(0.4):
            keys = dice.sample(("limits", "dose", "dli_least"), dice.randint(1, 3))
            about["from_readings"] = {key: dice.pick(("mean", "least", "most")) for key in keys}
    return {MAP: text.encode()}


def _sweep(dice: Dice, data: dict[str, Any]) -> dict[str, bytes]:
    ballast = next(iter(data["ballasts"].values()))
    floor = ballast["floor"]
    floor["light_percent"] = max(floor["light_percent"], 3)
    text = readings.sweep(floor["volts"], floor["light_percent"], ballast["full_volts"])
    ballast["response"] = {"kind": "swept", "readings": "readings/sweep.csv"}
    if dice.chance(0.3):
        ballast["response"]["readings_sha256"] = _sha256(text)
    return {"readings/sweep.csv": text.encode()}


def _spectrum(dice: Dice, data: dict[str, Any]) -> dict[str, bytes]:
    spectrum, weights = "readings/spectrum.csv", "readings/weights.csv"
    for channel in data["channels"].values():
        channel["spectrum"] = {"kind": "measured", "readings": spectrum}
        if dice.chance(0.3):
            channel["spectrum"]["readings_sha256"] = _sha256(readings.SPECTRUM)
    data["action_spectrum"] = {
        "weights": weights,
        "source": "nobody, 1999, a straight line for tests",
    }
    if dice.chance(0.5):
        data["action_spectrum"]["weights_sha256"] = _sha256(readings.WEIGHTS)
    return {spectrum: readings.SPECTRUM.encode(), weights: readings.WEIGHTS.encode()}


def ask(dice: Dice, data: dict[str, Any], asking: str) -> None:
    """Let a zone ask for a dose that the day of the file nearly has."""
    channels = data["channels"]
    moving = next(iter(channels))
    for id, channel in channels.items():
        peak = max(channel["day"]["peaks"][0]["light_percent"], 20)
        if id == moving:
            channel["may_move"] = {"peak_light_percent": [max(peak - 20, 5), min(peak + 20, 100)]}
            if dice.chance(0.3):
                channel["may_move"]["day_hours"] = [6, 14]
        elif dice.chance(0.5):
            channel["may_move"] = {"together_with": moving}
        channel["day"]["peaks"] = [{"light_percent": peak}]
        typed = channel["full_ppfd"]["zones"]
        channel["full_ppfd"]["zones"] = {zone: typed.get(zone) or 50 for zone in data["zones"]}
    zone = data["zones"][asking]
    zone.pop("dli", None)
    peak_ppfd = sum(
        c["full_ppfd"]["zones"][asking] * most_percent(c) / 100 for c in channels.values()
    )
    dose = max(round(peak_ppfd * 8 * 0.0036, 2), 0.01)
    zone["wanted_dli"] = dose
    if dice.chance(0.5):
        zone["wanted_dli"] = [round(dose * 0.9, 2), round(dose * 1.1, 2)]


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
