"""Draws of files of readings beside a schedule: maps of light, sweeps, spectra."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tests.drawn.dice import Dice

#: Where the readings of a map stand. [cm]
PLACES = [(x, y, depth) for x in (10, 40, 70) for y in (10, 30) for depth in (5, 15, 30)]

#: A spectrum of the sun, as coarse as one can be.
SPECTRUM = "wavelength_nm,power\n" + "".join(
    f"{nm},{round(1 + math.sin(nm / 40), 4)}\n" for nm in range(380, 741, 5)
)

#: Weights of photons that nobody has published: a straight line.
WEIGHTS = "wavelength_nm,weight\n" + "".join(
    f"{nm},{round((nm - 390) / 320, 4)}\n" for nm in range(395, 706, 5)
)


def map_by_zones(dice: Dice, zones: Sequence[str], channels: Sequence[str], *, is_lux: bool) -> str:
    """Return a map of readings that name their zones, three in each."""
    unit = "lux" if is_lux else "ppfd_umol_m2_s"
    lines = [f"zone,point,channel,level_percent,{unit},immersion_applied,date"]
    for channel in channels:
        for zone in zones:
            values = [dice.randint(20, 200) * (60 if is_lux else 1) for _ in range(3)]
            lines += [f"{zone},p{n},{channel},100,{v},yes,2027-02-20" for n, v in enumerate(values)]
    return "\n".join(lines) + "\n"


def map_by_places(dice: Dice, channels: Sequence[str]) -> str:
    """Return a map of readings at places of the tank: light falls with depth and to the ends."""
    lines = [
        "x_cm,y_cm,depth_cm,channel,level_percent,ppfd_umol_m2_s,immersion_factor,immersion_applied,date,leave_out"
    ]
    for channel in channels:
        top, per_m = dice.uniform(120, 260), dice.uniform(0.5, 1.5)
        for x, y, depth in PLACES:
            value = top * math.exp(-per_m * depth / 100) * (1 - abs(x - 40) / 200)
            lines.append(f"{x},{y},{depth},{channel},100,{value:.1f},1.32,yes,2027-02-20,")
    return "\n".join(lines) + "\n"


def extent(dice: Dice, at: int) -> dict[str, Any]:
    """Return an extent that holds places of such a map."""
    if dice.chance(0.6):
        low = (0, 20, 25)[at % 3]
        return {
            "kind": "box",
            "x_cm": [0, 80],
            "y_cm": [0, 40],
            "depth_cm": [low, low + 12] if low != 20 else [14, 31],
        }
    points = [{"x_cm": x, "y_cm": y, "depth_cm": depth} for x, y, depth in dice.sample(PLACES, 3)]
    if dice.chance(0.4):
        points[0]["depth_cm"] = 20  # between two depths that were read
    return {"kind": "points", "points": points}


def sweep(floor_volts: float, floor_light: float, full_volts: float) -> str:
    """Return a sweep of a ballast whose light rises evenly between floor and full."""
    lines = ["volts,ppfd_umol_m2_s"]
    steps = 18
    for number in range(-1, steps + 1):
        share = max(number, 0) / steps
        volts = floor_volts + (full_volts - floor_volts) * number / steps
        light = floor_light / 100 + (1 - floor_light / 100) * share
        if volts >= 0:
            lines.append(f"{volts:.4f},{300 * light:.3f}")
    return "\n".join(lines) + "\n"
