"""Another player of the rows, by the words of a schedule's file: volts and light without our code."""

from __future__ import annotations

import bisect
import csv
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Row
from tests.program.bench import DAY, EXAMPLES


def calibration(controller: Mapping[str, Any]) -> tuple[float, float, int]:
    """Volts at code 0, volts per code, and the top permitted code."""
    converter = controller["converter"]
    if converter["kind"] == "nominal":
        offset, step = 0.0, converter["full_scale_volts"] / 2 ** converter["bits"]
    else:
        (low, high) = converter["points"]
        step = (high["volts"] - low["volts"]) / (high["code"] - low["code"])
        offset = low["volts"] - step * low["code"]
    most = min(10.0, controller.get("port", {}).get("most_volts", 10.0))
    return offset, step, min(2 ** converter["bits"] - 1, math.floor((most - offset) / step))


def volts_of(
    controller: Mapping[str, Any], count: int, own: Mapping[str, Any] | None = None
) -> float:
    """Volts of a count; ``own`` is the converter of a channel, measured at several codes."""
    offset, step, top = calibration(controller)
    emits = controller.get("emits", {"unit": "percent", "step": 1})
    if emits["unit"] == "code":
        code = count * emits["step"]
    else:
        share = {"percent": 100, "millivolts": 10_000}[emits["unit"]]
        wanted = 10.0 * count * emits["step"] / share
        code = min(max(math.floor((wanted - offset) / step + 0.5), 0), top)
    if own is not None:
        points = own["points"]
        at = max(i for i, p in enumerate(points[:-1]) if i == 0 or p["code"] <= code)
        low, high = points[at], points[at + 1]
        step = (high["volts"] - low["volts"]) / (high["code"] - low["code"])
        return max(low["volts"] + step * (code - low["code"]), 0.0)
    return max(offset + step * code, 0.0)


def points_of(ballast: Mapping[str, Any]) -> tuple[list[float], list[float]]:
    """Volts and light of a measured response [V, fraction of full]; of a sweep without dips, its means."""
    response = ballast["response"]
    if response["kind"] == "measured":
        points = response["points"]
        return [p["volts"] for p in points], [p["light_percent"] / 100 for p in points]
    read: dict[float, list[float]] = {}
    with (EXAMPLES[0].parent / response["readings"]).open(newline="") as stream:
        for row in csv.DictReader(stream):
            read.setdefault(float(row["volts"]), []).append(float(row["ppfd_umol_m2_s"]))
    means = {volts: sum(light) / len(light) for volts, light in sorted(read.items())}
    floor, full = ballast["floor"], ballast["full_volts"]
    # three decimals of a percent, as `measure sweep` prints them
    inside = {
        v: round(light / means[full], 5) for v, light in means.items() if floor["volts"] < v < full
    }
    xs = [floor["volts"], *inside, full]
    return xs, [floor["light_percent"] / 100, *inside.values(), 1.0]


def light_of(ballast: Mapping[str, Any], volts: float) -> float:
    """Light of a burning lamp [fraction of full]."""
    response, floor = ballast["response"], ballast["floor"]
    low_volts, low = floor["volts"], floor["light_percent"] / 100
    volts = min(max(volts, low_volts), ballast["full_volts"])
    if response["kind"] in ("measured", "swept"):
        xs, ys = points_of(ballast)
        i = min(max(bisect.bisect_right(xs, volts), 1), len(xs) - 1)
        share = (volts - xs[i - 1]) / (xs[i] - xs[i - 1])
        return float(ys[i - 1] + share * (ys[i] - ys[i - 1]))
    share = (volts - low_volts) / (ballast["full_volts"] - low_volts)
    if response["kind"] == "linear":
        return float(low + (1 - low) * share)
    if response["kind"] == "square-law":
        return float((math.sqrt(low) + (1 - math.sqrt(low)) * share) ** 2)
    assert response["kind"] == "log-law"
    return float(low ** (1 - share))


def rounded(change: Ints, span: Ints, rounding: str) -> Ints:
    """Counts beyond those of a row, in whole numbers: nothing hangs on the rounding of a quotient."""
    if rounding == "half-up":
        return (2 * change + span) // (2 * span)
    if rounding == "down":
        return change // span
    return np.sign(change) * (np.abs(change) // span)


def played(
    rows: tuple[Row, ...], data: Mapping[str, Any], channel: str, rounding: str | None = None
) -> Floats:
    """The light of every second, from the emitted rows and the words of the file."""
    controller = data["controller"]
    ballast = data["ballasts"][data["channels"][channel]["ballast"]]
    emits = controller.get("emits", {})
    rounding = rounding or emits.get("rounding", "half-up")
    wraps, holds = controller["after_last_row"] == "wrap", controller["between"] == "hold"
    relay, dark = controller["relay"], ballast["dark"]
    seconds = np.array([row.second for row in rows])
    counts = np.array([row.count for row in rows])
    now = seconds_of_emission(emits)
    index = np.searchsorted(seconds, now, side="right") - 1
    is_before = index < 0
    index[is_before] = len(rows) - 1 if wraps else 0
    following = (index + 1) % len(rows)
    since, span = (now - seconds[index]) % DAY, (seconds[following] - seconds[index]) % DAY
    span[span == 0] = DAY
    change = (counts[following] - counts[index]) * since
    if holds:
        change[:] = 0
    elif not wraps:
        change[is_before | (index == len(rows) - 1)] = 0
    count = counts[index] + rounded(change, span, rounding)
    on = np.array([bool(row.relay) for row in rows])[index]
    state = 2 * count + on
    light = np.zeros(state.max() + 1)
    for each in set(state.tolist()):
        number, is_on = each // 2, each % 2 == 1
        volts = volts_of(controller, number, data["channels"][channel].get("converter"))
        burns = True
        if dark["kind"] == "standby":
            burns = volts >= dark["below_volts"]
            if relay["kind"] == "column" and not dark.get("keeps_mains", False):
                burns = burns and is_on  # its relay opens in the dark
        elif dark["kind"] == "relay" and relay["kind"] == "column":
            burns = is_on
        elif dark["kind"] == "relay":
            burns = volts_level(controller, number) >= relay["on_level_percent"]
        light[each] = light_of(ballast, volts) if burns else 0.0
    return light[state]


def seconds_of_emission(emits: Mapping[str, Any]) -> Ints:
    """For each second when that was put out which stands then."""
    now = np.arange(DAY)
    return now - now % emits.get("every_seconds", 1)


def without_mains(rows: tuple[Row, ...], data: Mapping[str, Any], channel: str) -> Bools:
    """In which seconds a ballast is behind an open relay, so that it takes no power."""
    dark = data["ballasts"][data["channels"][channel]["ballast"]]["dark"]
    if dark["kind"] == "never" or data["controller"]["relay"]["kind"] != "column":
        return np.zeros(DAY, dtype=bool)
    now = seconds_of_emission(data["controller"].get("emits", {}))
    at = np.searchsorted([row.second for row in rows], now, side="right") - 1
    return ~np.array([bool(row.relay) for row in rows])[at]


def volts_level(controller: Mapping[str, Any], count: int) -> float:
    """Level of a count [% of 10 V]."""
    emits = controller.get("emits", {"unit": "percent", "step": 1})
    if emits["unit"] == "code":
        return volts_of(controller, count) * 10
    return float(count * emits["step"] * (1 if emits["unit"] == "percent" else 0.01))


def at_full(example: Path, data: dict[str, Any], id: str, zone: str) -> tuple[float, float] | None:
    """Return PPFD at full for doses and for limits, read from the file again. [µmol m⁻² s⁻¹]"""
    full = data["channels"][id].get("full_ppfd", {})
    if "readings" not in full:
        typed = full.get("zones", {}).get(zone)
        return None if typed is None else (typed, typed)
    extent, read = data["zones"][zone]["extent"], {}
    with (example.parent / full["readings"]).open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if row["channel"] == id and not row["leave_out"]:
                factor = (
                    1.0 if row["immersion_applied"] == "yes" else float(row["immersion_factor"])
                )
                at = tuple(float(row[axis]) for axis in ("x_cm", "y_cm", "depth_cm"))
                read[at] = factor * float(row["ppfd_umol_m2_s"])
    if extent["kind"] == "points":
        found = [at_point(read, *point.values()) for point in extent["points"]]
    else:
        axes = (extent["x_cm"], extent["y_cm"], extent["depth_cm"])
        found = [
            light
            for at, light in read.items()
            if all(low <= value <= high for value, (low, high) in zip(at, axes, strict=True))
        ]
    return math.fsum(found) / len(found), max(found)


def at_point(read: Mapping[Any, float], x: float, y: float, depth: float) -> float:
    """Return PPFD at a point: as read, on a line of its logarithm, or by the fall-off of the tank."""
    logs = {z: math.log(light) for (a, b, z), light in read.items() if (a, b) == (x, y)}
    if min(logs) <= depth <= max(logs):
        return math.exp(float(np.interp(depth, sorted(logs), [logs[z] for z in sorted(logs)])))
    columns: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for (a, b, z), light in read.items():
        columns.setdefault((a, b), []).append((z, math.log(light)))
    up = down = 0.0
    for column in columns.values():
        mean_z, mean_log = (sum(each) / len(column) for each in zip(*column, strict=True))
        up += sum((z - mean_z) * (log - mean_log) for z, log in column)
        down += sum((z - mean_z) ** 2 for z, _ in column)
    nearest = min(logs, key=lambda z: abs(z - depth))
    return math.exp(logs[nearest] + up / down * (depth - nearest))


def plain_data(example: Path) -> dict[str, Any]:
    """The keys of an example, and those of the file of parts that it names."""
    data: dict[str, Any] = yaml.safe_load(example.read_text(encoding="utf-8"))
    parts: dict[str, Any] = {}
    if "parts" in data:
        parts = yaml.safe_load((example.parent / data["parts"]).read_text(encoding="utf-8"))
    for zone in data.get("zones", {}).values():
        if "like" in zone:
            zone.update(parts["zone_kinds"][zone.pop("like")] | zone)
    return {key: parts[key] for key in ("controller", "ballasts") if key in parts} | data
