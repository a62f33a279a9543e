"""Ten thousand rows of readings, beside reading the same file with Python's csv module.

Run: python benchmarks/readings.py
"""

from __future__ import annotations

import csv
import io
import math
import random
import time
from collections.abc import Callable

from photoperiod.readings.fade import fade_of
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import at_full_only
from photoperiod.readings.read_map import read_map
from photoperiod.readings.reader import read_readings
from photoperiod.readings.sweep import sweep_of

ROWS = 10_000
ROUNDS = 15

#: A use of a file may take so many times as long as reading it with csv.
BAR = 10.0


def a_map(dice: random.Random) -> list[str]:
    rows = [
        "x_cm,y_cm,depth_cm,channel,level_percent,ppfd_umol_m2_s,immersion_applied,immersion_factor,date"
    ]
    for at in range(ROWS):
        x, y, depth = dice.uniform(0, 100), dice.uniform(0, 60), dice.uniform(5, 50)
        light = 300 * math.exp(-depth / 40 - ((x - 50) / 60) ** 2) * dice.gauss(1, 0.03)
        channel = "abcd"[at % 4]
        rows.append(f"{x:.1f},{y:.1f},{depth:.1f},{channel},100,{light:.1f},no,1.32,2027-02-20")
    return rows


def a_sweep(dice: random.Random) -> list[str]:
    rows = ["volts,ppfd_umol_m2_s,note"]
    for _ in range(ROWS):
        volts = dice.uniform(0.2, 10)
        rows.append(
            f"{volts:.3f},{250 * max(volts / 10, 0.1) ** 2 + dice.gauss(0, 0.5):.2f},warm lamp"
        )
    return rows


def a_series(dice: random.Random) -> list[str]:
    rows = ["lit_hours,ppfd_umol_m2_s,zone,note"]
    for at in range(ROWS):
        rows.append(
            f"{100 + at},{120 * math.exp(-1e-5 * at) * dice.gauss(1, 0.01):.2f},crest,by a logger"
        )
    return rows


def use_map(raw: bytes) -> object:
    return read_map("x.csv", raw, at_full_only, None).map


def use_sweep(raw: bytes) -> object:
    readings, faults = read_readings("x.csv", raw, "sweep")
    return readings and sweep_of(readings, faults)


def use_series(raw: bytes) -> object:
    readings, _ = read_readings("x.csv", raw, "series")
    return readings and fade_of(readings, Faults())


def seconds(*works: Callable[[], object]) -> list[float]:
    """Return the least time of each work; of this thread, so that a busy machine does not count."""
    best = [math.inf] * len(works)
    for _ in range(ROUNDS):
        for at, work in enumerate(works):
            begin = time.thread_time()
            assert work() is not None
            best[at] = min(best[at], time.thread_time() - begin)
    return best


def main() -> None:
    """Print the ratio of each use."""
    uses = (
        ("map", a_map, use_map),
        ("sweep", a_sweep, use_sweep),
        ("series", a_series, use_series),
    )
    for name, make, use in uses:
        raw = "\r\n".join(make(random.Random(1))).encode()
        by_csv, ours = seconds(
            lambda raw=raw: list(csv.reader(io.StringIO(raw.decode(), newline=""))),
            lambda raw=raw, use=use: use(raw),
        )
        print(f"{name:8} {ours * 1000:6.0f} ms  {ours / by_csv:5.1f} x csv  (bar {BAR:g})")


if __name__ == "__main__":
    main()
