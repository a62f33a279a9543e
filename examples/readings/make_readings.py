"""Make the readings of the teaching reef. They are invented; a model stands for the tank.

It has tubes over water, and a flat surface that bends light and reflects some of it.

Run it from the top of the project: ``python examples/readings/make_readings.py``. The same files come
out every time. Two slips are made on purpose in ``map-as-typed.csv``: a digit too many in one row, and a
sensor whose readings nobody has corrected for water, which the columns say. In ``map.csv`` the first of
them has been found.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from pathlib import Path

HERE = Path(__file__).parent

#: Seed of the noise of the meter.
SEED = 20270220

#: The tank [cm]: along the tubes, across them, and the depths of the sensor.
X_CM = [10, 30, 50, 70, 90, 110]
Y_CM = [5, 15, 25, 35, 45, 55]
DEPTH_CM = [6, 16, 28, 39, 50]

#: The tubes lie along the tank, so high above the water [cm].
HEIGHT_CM = 22.0
TANK_LENGTH_CM = 120.0

#: For each channel where its tubes lie across the tank [cm], their length [cm], the strength of one
#: [µmol s⁻¹ per m and steradian], and what the water takes [1/m].
TUBES = {
    "blue": ([22, 38], 115.0, 29.0, 0.09),
    "white": ([14, 46], 115.0, 25.0, 0.18),
    "violet": ([18, 42], 115.0, 13.0, 0.12),
}

#: What a sensor reads under water beside what falls on it, and which rows were corrected by hand.
IMMERSION = 1.32

#: The row with a digit too many.
SLIP = ("white", 50, 35, 16)


#: Refractive index of sea water, and into how many pieces a tube is cut.
WATER = 1.34
PIECES = 60


def from_piece(along: float, aside: float, depth: float) -> float:
    """Return E/I′ of a piece of tube at a point so far from it and so deep [m], by one ray of light.

    The ray is bent at a flat surface: the angle at which it reaches the point is found by halving. Its light
    is as strong as the rays beside it lie near each other, less what the surface reflects.
    """
    height, across = HEIGHT_CM / 100, math.hypot(along, aside)

    def lands(angle: float) -> float:
        return height * math.tan(angle) + depth * math.tan(math.asin(math.sin(angle) / WATER))

    low, high = 0.0, math.pi / 2 - 1e-6
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if lands(middle) < across else (low, middle)
    beside = 1e-5
    near, far = max(low - beside, 0.0), low + beside
    solid_angle = math.cos(near) - math.cos(far)
    ring = (lands(far) ** 2 - lands(near) ** 2) / 2
    inside = math.cos(math.asin(math.sin(low) / WATER))
    outside = math.cos(low)
    s = (outside - WATER * inside) / (outside + WATER * inside)
    p = (WATER * outside - inside) / (WATER * outside + inside)
    to_axis = math.sin(low) * along / across if across else 0.0
    return math.sqrt(1 - to_axis**2) * (1 - (s * s + p * p) / 2) * solid_angle / ring


def line_source(x: float, y: float, depth: float, tube_y: float, length: float) -> float:
    """Return E/I′ of a tube over the water at a point below its surface [1/m]."""
    piece = length / PIECES
    first = TANK_LENGTH_CM / 2 - length / 2 + piece / 2 - x
    return sum(
        from_piece((first + piece * at) / 100, (y - tube_y) / 100, depth / 100) * piece / 100
        for at in range(PIECES)
    )


def ppfd(channel: str, x: float, y: float, depth: float) -> float:
    """Return what a channel gives at a point of the model. [µmol m⁻² s⁻¹]"""
    tubes, length, strength, per_m = TUBES[channel]
    light = sum(line_source(x, y, depth, tube, length) for tube in tubes)
    return strength * light * math.exp(-per_m * depth / 100)


def map_rows() -> list[tuple[str, ...]]:
    """Return the rows of the map: three channels at 36 points and five depths."""
    noise, rows = random.Random(SEED), []
    for channel in TUBES:
        for depth in DEPTH_CM:
            for y in Y_CM:
                for x in X_CM:
                    light = ppfd(channel, x, y, depth) * noise.gauss(1, 0.02)
                    # The violet tubes were measured on another day, with a bare sensor.
                    is_bare = channel == "violet"
                    shown = round(light / IMMERSION if is_bare else light)
                    if (channel, x, y, depth) == SLIP:
                        shown = shown * 10 + 4
                    # A lux meter was held beside it once; nobody needs its column.
                    lux = round(light * {"blue": 19, "white": 71, "violet": 6}[channel], -1)
                    rows.append(
                        (
                            *map(str, (x, y, depth, channel, 100, shown, round(lux))),
                            str(IMMERSION),
                            "no" if is_bare else "yes",
                            "2027-02-20",
                            "",
                        )
                    )
    return rows


MAP_COLUMNS = (
    "x_cm", "y_cm", "depth_cm", "channel", "level_percent", "ppfd_umol_m2_s", "lux", "immersion_factor",
    "immersion_applied", "date", "leave_out",
)  # fmt: skip


def sweep_rows() -> list[tuple[str, ...]]:
    """Return a sweep of a ballast that is flat below 1.1 V and above 9.6 V, most points read twice."""
    noise, rows = random.Random(SEED + 1), []
    volts = [0.5 * step for step in range(1, 21)]
    for once in (volts, volts[::2]):
        for v in once:
            share = min(max((v - 1.1) / (9.6 - 1.1), 0.0), 1.0)
            light = (0.1 + 0.9 * share) ** 1.9
            rows.append((f"{v:.2f}", f"{212 * light + noise.gauss(0, 0.3):.1f}"))
    return rows


def series_rows() -> list[tuple[str, ...]]:
    """Return a reading of the white tubes at one place every four weeks over a year, ten hours a day."""
    noise, rows = random.Random(SEED + 2), []
    for week in range(0, 53, 4):
        hours = 100 + week * 70
        light = 118 * math.exp(-1.1e-5 * hours) * noise.gauss(1, 0.006)
        date = dt.date(2026, 9, 2) + dt.timedelta(weeks=week)
        rows.append((str(date), str(hours), f"{light:.1f}"))
    return rows


def spectrum_rows() -> list[tuple[str, ...]]:
    """Return a spectrum of white tubes: three bands over a faint ground, as of a tri-phosphor tube."""
    bands = ((452, 42, 0.55), (543, 16, 1.0), (612, 14, 0.9))  # centre, width at half [nm], height
    rows = []
    for nm in range(380, 751, 2):
        power = 0.03 + sum(h * 0.5 ** ((2 * (nm - c) / w) ** 2) for c, w, h in bands)
        rows.append((str(nm), f"{power:.4f}"))
    return rows


def write(name: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Write a CSV file (RFC 4180)."""
    text = "".join(",".join(cells) + "\r\n" for cells in (columns, *rows))
    (HERE / name).write_bytes(text.encode())


if __name__ == "__main__":
    as_typed = map_rows()
    write("map-as-typed.csv", MAP_COLUMNS, as_typed)
    slip = tuple(map(str, (SLIP[1], SLIP[2], SLIP[3], SLIP[0])))
    found = [
        (*row[:-1], "a digit too many when it was typed") if row[:4] == slip else row
        for row in as_typed
    ]
    write("map.csv", MAP_COLUMNS, found)
    write("sweep.csv", ("volts", "ppfd_umol_m2_s"), sweep_rows())
    write("series.csv", ("date", "lit_hours", "ppfd_umol_m2_s"), series_rows())
    write("white-spectrum.csv", ("wavelength_nm", "power"), spectrum_rows())
