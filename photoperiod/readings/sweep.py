"""A sweep of a ballast, volts against light, → its curve: floor, dead zones, full, the law that fits best.

Light is a share of the light at full. The curve never falls: where a meter's noise makes it fall,
neighbours are averaged (`levelled`, weighed by their readings). Volts near each other are one point, so
that a repeated point counts more. Rounding and noise of the meter decide what counts as flat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from photoperiod.arrays import Floats, Ints, np
from photoperiod.drive.ballast import NOISE_LIGHT, BallastCurve, DarkKind, ResponseKind, levelled
from photoperiod.readings.columns import Quantity
from photoperiod.readings.faults import Faults
from photoperiod.readings.model import Readings
from photoperiod.text import number_text, plain_number

#: Volts are one point within steps of this size [V]: multimeters show hundredths. Our choice.
VOLTS_STEP = 0.01

#: Fewer points than these tell no curve. Our choice.
LEAST_POINTS = 4

#: Light that is above the floor by less than this share of the floor still is the floor. Our choice.
FLOOR_SHARE = 0.05

#: Light that is below full by less than this still is full [share of full]. Our choice.
FULL_SHARE = 0.005

#: Readings at the same volts that differ by more than this are no noise [share of full]. Our choice.
SPREAD_SHARE = 2 * NOISE_LIGHT

#: Light jumps where it rises by more than this from one point to the next [share of full], and by so
#: many times as much as from the points beside. Our choice.
JUMP_SHARE, JUMP_FACTOR = 0.15, 4.0

#: No meter shows more decimals.
MOST_DECIMALS = 7

#: The laws that are tried, each from floor to full.
LAWS = (ResponseKind.LINEAR, ResponseKind.SQUARE_LAW, ResponseKind.LOG_LAW)


@dataclass(frozen=True, slots=True)
class LawFit:
    """A law from floor to full beside the points: root mean square and worst residual. [share of full]"""

    kind: ResponseKind
    rms: float
    worst: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """What a sweep says of a ballast.

    Parameters
    ----------
    volts : tuple of float
        The points at which it burned, rising. [V]
    raw, light : tuple of float
        The mean of the readings at each, and the curve through them. [share of full]
    noise : float or None
        Standard deviation of one reading, from readings at the same volts; None without any. [share]
    dark_volts : float or None
        The highest volts at which it gave no light at all; None if it always did. [V]
    floor_volts, floor_light, full_volts : float
        Where the floor ends, its light [share of full], and the least volts of full light. [V]
    dead_zones : tuple of (float, float)
        Volts above the floor and below full between which light stays the same. [V]
    laws : tuple of LawFit
        The best first.
    """

    volts: tuple[float, ...]
    raw: tuple[float, ...]
    light: tuple[float, ...]
    noise: float | None
    dark_volts: float | None
    floor_volts: float
    floor_light: float
    full_volts: float
    dead_zones: tuple[tuple[float, float], ...]
    laws: tuple[LawFit, ...]


@dataclass(frozen=True, slots=True)
class _Points:
    """Readings gathered by volts: means of volts and light, how many, their spread, and the first of each."""

    volts: Floats
    light: Floats
    counts: Ints
    spread: Floats
    first: Ints
    noise: float | None
    last_digit: float


def sweep_of(readings: Readings, faults: Faults) -> Sweep | None:
    """Return what a sweep says; None, and findings, if it tells no curve."""
    if not _is_of_one(readings, faults):
        return None
    points = _gathered(readings)
    lit = int(np.flatnonzero(points.light > 0)[0]) if (points.light > 0).any() else 0
    if points.volts.size - lit < LEAST_POINTS:
        faults.add(
            "PHO908",
            None,
            f"the sweep has {points.volts.size - lit} points with light, a curve needs {LEAST_POINTS}",
            "read at steps of 0.5 V from below the floor to 10 V",
        )
        return None
    if float(np.ptp(points.light)) == 0:
        faults.add(
            "PHO907",
            readings.place(0, readings.light_quantity),
            "all readings of the sweep are alike",
            "was the meter at its end, or did the ballast not follow the volts?",
        )
        return None
    level, _ = levelled(points.light[lit:].tolist(), points.counts[lit:].tolist())
    full = level[-1]
    curve = np.array(level) / full
    _report_noise(readings, points, lit, full, curve, faults)
    return None if faults.has_errors else _sweep(points, lit, full, curve)


def _is_of_one(readings: Readings, faults: Faults) -> bool:
    """Return whether a sweep is of one ballast; a finding if it is not."""
    for names, quantity in (
        (list(readings.ballasts), Quantity.BALLAST),
        (["+".join(on) for on in readings.channels], Quantity.CHANNEL),
    ):
        different = list(dict.fromkeys(name for name in names if name))
        if len(different) > 1:
            faults.add(
                "PHO912",
                readings.place(names.index(different[1]), quantity),
                f"the sweep is of '{different[0]}' and of '{different[1]}'",
                "one file is one sweep: give each its own",
            )
            return False
    return True


def _gathered(readings: Readings) -> _Points:
    """Return the readings of a sweep by volts."""
    order = np.argsort(readings.volts, kind="stable")
    volts, light = readings.volts[order], readings.light[order]
    steps = np.floor(volts / VOLTS_STEP + 0.5)
    begin = np.flatnonzero(np.diff(steps, prepend=-1.0))
    counts = np.diff(begin, append=volts.size)
    mean = np.add.reduceat(light, begin) / counts
    degrees = int((counts - 1).sum())
    off = light - np.repeat(mean, counts)
    return _Points(
        volts=np.add.reduceat(volts, begin) / counts,
        light=mean,
        counts=counts,
        spread=np.maximum.reduceat(light, begin) - np.minimum.reduceat(light, begin),
        first=order[begin],
        noise=math.sqrt(float((off**2).sum()) / degrees) if degrees else None,
        last_digit=_last_digit(readings),
    )


def _last_digit(readings: Readings) -> float:
    """Return what the last digit of the readings is worth: the decimals with which all are whole."""
    for decimals in range(MOST_DECIMALS):
        scaled = readings.light * 10**decimals
        if bool((np.abs(scaled - np.round(scaled)) < 1e-6 * np.maximum(scaled, 1.0)).all()):
            break
    return float(10.0**-decimals)


def _report_noise(
    readings: Readings, points: _Points, lit: int, full: float, curve: Floats, faults: Faults
) -> None:
    """Add findings for light that differs at the same volts, that falls, or that jumps."""
    for at in np.flatnonzero(points.spread > SPREAD_SHARE * full):
        faults.add(
            "PHO912",
            readings.place(int(points.first[at]), readings.light_quantity),
            f"readings at {number_text(float(points.volts[at]))} V differ by"
            f" {number_text(float(points.spread[at]) / full * 100, 1)} % of full",
            "are there two ballasts in the sweep, or was the lamp not yet warm?",
        )
    raw = points.light[lit:] / full
    fall = np.maximum.accumulate(raw) - raw
    worst = int(fall.argmax())
    if fall[worst] > NOISE_LIGHT:
        faults.add(
            "PHO912",
            readings.place(int(points.first[lit + worst]), readings.light_quantity),
            f"at {number_text(float(points.volts[lit + worst]))} V light has fallen by"
            f" {number_text(float(fall[worst]) * 100, 1)} % of full, although the volts rise",
            "exchanged rows, two ballasts, or a lamp that was not yet warm? Measure again",
        )
    rise = np.diff(curve)
    beside = np.maximum(np.append(rise[1:], 0.0), np.append(0.0, rise[:-1]))
    for at in np.flatnonzero((rise > JUMP_SHARE) & (rise > JUMP_FACTOR * beside)):
        low, high = points.volts[lit + at], points.volts[lit + at + 1]
        faults.add(
            "PHO913",
            readings.place(int(points.first[lit + at + 1]), readings.light_quantity),
            f"light jumps by {number_text(float(rise[at]) * 100, 1)} % of full between"
            f" {number_text(float(low))} and {number_text(float(high))} V",
            "read more points between them",
        )


def _sweep(points: _Points, lit: int, full: float, curve: Floats) -> Sweep:
    volts = points.volts[lit:]
    # Two standard deviations of a difference of means. Rounding to a last digit is noise, too: that of
    # an even distribution, a digit over √12.
    counts = points.counts[lit:]
    noise = 2 * max(points.noise or 0.0, points.last_digit / math.sqrt(12))
    from_floor = noise / full * np.sqrt(1 / counts + 1 / counts[0])
    from_full = noise / full * np.sqrt(1 / counts + 1 / counts[-1])
    is_floor = curve <= curve[0] + np.maximum(from_floor, FLOOR_SHARE * float(curve[0]))
    floor = int(np.flatnonzero(is_floor)[-1])
    top = int(np.flatnonzero(curve >= 1.0 - np.maximum(from_full, FULL_SHARE))[0])
    if top <= floor:
        floor, top = 0, curve.size - 1
    shown = curve.copy()
    shown[: floor + 1] = float(np.average(curve[: floor + 1], weights=counts[: floor + 1]))
    shown[top:] = 1.0
    floor_light = float(shown[floor])
    raw = points.light[lit:] / full
    return Sweep(
        volts=tuple(volts.tolist()),
        raw=tuple(raw.tolist()),
        light=tuple(shown.tolist()),
        noise=None if points.noise is None else points.noise / full,
        dark_volts=float(points.volts[lit - 1]) if lit else None,
        floor_volts=float(volts[floor]),
        floor_light=floor_light,
        full_volts=float(volts[top]),
        dead_zones=_dead_zones(volts, shown, floor, top),
        laws=_laws(volts, raw, float(volts[floor]), floor_light, float(volts[top])),
    )


def _dead_zones(
    volts: Floats, light: Floats, floor: int, top: int
) -> tuple[tuple[float, float], ...]:
    zones: list[tuple[float, float]] = []
    for at in range(floor, top):
        if light[at + 1] > light[at]:
            continue
        low, high = float(volts[at]), float(volts[at + 1])
        if zones and zones[-1][1] == low:
            zones[-1] = zones[-1][0], high
        else:
            zones.append((low, high))
    return tuple(zones)


def _laws(
    volts: Floats, raw: Floats, floor_volts: float, floor_light: float, full_volts: float
) -> tuple[LawFit, ...]:
    """Return how well each law fits, the best first."""
    fits = []
    for kind in LAWS:
        law = BallastCurve(
            kind=kind,
            floor_volts=floor_volts,
            full_volts=full_volts,
            floor_light=floor_light,
            dark=DarkKind.NEVER,
        )
        off = np.abs(law.light_at(volts) - raw)
        fits.append(LawFit(kind, math.sqrt(float((off**2).mean())), float(off.max())))
    return tuple(sorted(fits, key=lambda fit: fit.rms))


def curve_points(sweep: Sweep) -> tuple[tuple[float, float], ...]:
    """Return the curve from floor to full as a schedule has it: volts [V] and light [% of full]."""
    return tuple(
        (round(volts, 3), round(light * 100, 3))
        for volts, light in zip(sweep.volts, sweep.light, strict=True)
        if sweep.floor_volts <= volts <= sweep.full_volts
    )


def sweep_yaml(sweep: Sweep) -> str:
    """Return the lines of a ballast to paste into a schedule."""
    lines = ["response:", "  kind: measured", "  points:"]
    for volts, percent in curve_points(sweep):
        lines.append(
            f"    - {{volts: {plain_number(volts)}, light_percent: {plain_number(percent)}}}"
        )
    lines += [
        f"floor: {{volts: {_volts(sweep.floor_volts)}, light_percent: {_percent(sweep.floor_light)}}}",
        f"full_volts: {_volts(sweep.full_volts)}",
    ]
    if sweep.dark_volts is not None:
        lines.append(f"dark: {{kind: standby, below_volts: {_volts(sweep.dark_volts)}}}")
    return "\n".join(lines) + "\n"


def _volts(volts: float) -> str:
    return plain_number(round(volts, 3))


def _percent(light: float) -> str:
    return plain_number(round(light * 100, 3))
