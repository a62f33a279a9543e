"""The exact fit against line simplification on the same grid and rows: error and time, in one run.

Run: python benchmarks/setpoints.py [level step in percent]
"""

from __future__ import annotations

import statistics
import sys
import time
from fractions import Fraction

import numpy as np

from photoperiod.light.ballast import Ballast
from photoperiod.light.curves import Curve, day_seconds, ramp_train
from photoperiod.table.converter import Converter
from photoperiod.table.draft import Draft, Target, simplify
from photoperiod.table.fit import fit
from photoperiod.table.grid import LevelGrid, RelayMode, TimeGrid
from photoperiod.table.path import LightPath

HOUR = 3600
ROWS = (6, 8, 10, 16, 32)
CURVES = {
    "two peaks": ramp_train(9 * HOUR, [(9 * HOUR, 4500, 0.7, "sine"), (13 * HOUR, HOUR, 0.85, "smooth"),
                                       (15 * HOUR, HOUR, 0.7, "smooth")], 21 * HOUR, 5400, "sine"),
    "trapezoid": ramp_train(9 * HOUR, [(9 * HOUR, HOUR, 0.8, "linear")], 21 * HOUR, HOUR, "linear"),
    "half-sine": ramp_train(7 * HOUR, [(7 * HOUR, 6 * HOUR, 1.0, "sine")], 19 * HOUR, 6 * HOUR, "sine"),
    "moon": ramp_train(20 * HOUR, [(20 * HOUR, 1800, 0.08, "smooth")], 27 * HOUR, 5 * HOUR, "perceptual"),
}  # fmt: skip
RESPONSES = ("linear", "square-law", "log-law")
TIMES = TimeGrid(step_s=60, between="line", after_last_row="wrap")


def light_path(response: str, step: str) -> LightPath:
    """Return a light path with a relay in its rows."""
    return LightPath(
        levels=LevelGrid(unit="percent", step=Fraction(step), every_seconds=1, rounding="half-up"),
        converter=Converter.nominal(12, 10.0, 10.0),
        ballast=Ballast(
            kind=response, floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
        ),
        relay=RelayMode(kind="column"),
    )


def main() -> None:
    """Print a line for each curve, response and number of rows, then the medians."""
    step = sys.argv[1] if len(sys.argv) > 1 else "1"
    ratios, times, slow = [], [], []
    print(f"errors in % of full at samples; levels of {step} %, rows on whole minutes")
    for name, part in CURVES.items():
        curve = Curve((part,))
        for response in RESPONSES:
            path = light_path(response, step)
            wanted = path.ballast.reachable(curve.light(day_seconds()), path.most_light)
            target = Target(
                name=name, reachable=wanted, corners=tuple(sorted(curve.corners())), path=path
            )
            for rows in ROWS:
                draft = Draft(target, TIMES)
                begin = time.perf_counter()
                seconds = simplify([draft], rows)
                simple_s = time.perf_counter() - begin
                simple = float(draft.errors(draft.play(seconds)[1])[::60].max())
                begin = time.perf_counter()
                (found,) = fit([target], TIMES, rows)
                exact_s = time.perf_counter() - begin
                proof = found.certificate
                dose = float(found.replay.light.sum() / wanted.sum() - 1)
                ratio = proof.error / simple if simple > 1e-6 else 1.0
                ratios.append(ratio)
                times.append(exact_s)
                slow.append(exact_s / simple_s)
                print(f"{name:10} {response:10} {rows:3} rows  simplification {simple * 100:6.2f}"
                      f"  exact {proof.error * 100:6.3f}  bound {proof.bound * 100:6.3f}"
                      f"  ratio {ratio:5.2f}  dose {dose * 100:+5.2f} %  {exact_s * 1000:5.0f} ms")  # fmt: skip
    print(
        f"error against simplification: median {statistics.median(ratios):.2f}, worst {max(ratios):.2f}"
    )
    print(f"above 0.6: {sum(r > 0.6 for r in ratios)} of {len(ratios)}")
    print(f"time with both objectives and certificate: median {statistics.median(times) * 1000:.0f} ms,"
          f" worst {max(times) * 1000:.0f} ms; against simplification: median"
          f" {statistics.median(slow):.1f} x")  # fmt: skip
    assert np.isfinite(ratios).all()


if __name__ == "__main__":
    main()
