"""The exact fit against other ways to choose rows, on one grid with the same rows, in one run.

Run: python benchmarks/setpoints.py [level step in percent]
Needs: pip install '.[bench]'

Every way gets the same channel, the same rows and the same fixed rows (the lamp lights and goes dark
at set times), and its rows stand on whole minutes and whole counts. What counts is the table as the
controller plays it: its worst error at the samples, with the tolerance in time that the fit uses.

``exact``
    `photoperiod.setpoints.fit.fit`: with its second objective and its certificate.
others
    Those of `other_fits.py`: line simplification, two plain dynamic programmes, and two packages.

All but the times is the same in every run.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

# Small matrices gain nothing from threads, and threads make times uncertain.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
from other_fits import MINUTE, OTHERS, TIMES, Rows, Run, error_of

from photoperiod.curves.curve import Curve, day_seconds, ramp_profile
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.fit import fit_anew as fit
from photoperiod.setpoints.problem import ChannelProblem, Target, simplify

Result = TypeVar("Result")

HOUR = 60 * MINUTE

ROWS = (6, 8, 10, 16, 32)
SHARED_ROWS = (10, 16, 24, 32)
RESPONSES = ("linear", "square-law", "log-law")
CURVES = {
    "two peaks": Curve((
        ramp_profile(9 * HOUR, [(9 * HOUR, 4500, 0.7, "sine"), (13 * HOUR, HOUR, 0.85, "smooth"),
                              (15 * HOUR, HOUR, 0.7, "smooth")], 21 * HOUR, 5400, "sine"),
    )),
    "trapezoid": Curve((
        ramp_profile(9 * HOUR, [(9 * HOUR, HOUR, 0.8, "linear")], 21 * HOUR, HOUR, "linear"),
    )),
    "half-sine": Curve((
        ramp_profile(7 * HOUR, [(7 * HOUR, 6 * HOUR, 1.0, "sine")], 19 * HOUR, 6 * HOUR, "sine"),
    )),
    "moon": Curve((
        ramp_profile(20 * HOUR, [(20 * HOUR, 1800, 0.08, "smooth")], 27 * HOUR, 5 * HOUR,
                   "perceptual"),
    )),
    "midday bump": Curve((
        ramp_profile(9 * HOUR, [(9 * HOUR, 2 * HOUR, 0.45, "smooth"), (12 * HOUR, 5400, 0.9, "sine"),
                              (14 * HOUR, 5400, 0.45, "smooth")], 21 * HOUR, 2 * HOUR, "smooth"),
    )),
    "day, moon": Curve((  # the moon takes over while dusk falls, and shines until three at night
        ramp_profile(9 * HOUR, [(9 * HOUR, 2 * HOUR, 0.9, "sine")], 20 * HOUR, 2 * HOUR, "sine"),
        ramp_profile(71_100, [(71_100, 900, 0.05, "smooth")], 27 * HOUR, 3 * HOUR, "perceptual"),
    )),
}  # fmt: skip

#: Curve and response of the cases that pwlf gets, and its rows.
PWLF_CASES = (("two peaks", "linear"), ("half-sine", "square-law"), ("midday bump", "log-law"))
PWLF_ROWS = (6, 8, 10)

#: Curves of the four channels that share one column of times: they light and go dark at four times.
SHARED_CURVES = ("two peaks", "trapezoid", "half-sine", "midday bump")

#: Rows of the pass that measures memory.
MEMORY_ROWS = 10

#: The exact fit should have at most this part of the error of `rdp`.
BAR = 0.6

#: What takes longer than this is timed once only [s].
LONG_S = 5.0

#: Errors below this are none [fraction of full].
NO_ERROR = 1e-6


# Channels


def light_path(response: str, step: str) -> LightPath:
    """Return a light path with a relay in its rows."""
    return LightPath(
        levels=LevelGrid(unit="percent", step=Fraction(step), every_seconds=1, rounding="half-up"),
        converter=Converter.nominal(12, 10.0, 10.0),
        ballast=BallastCurve(
            kind=response, floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
        ),
        relay=RelayMode(kind="column"),
    )


def target_of(curve: str, path: LightPath) -> Target:
    """Return what a channel with one of the curves should do."""
    wanted = path.ballast.reachable(CURVES[curve].light(day_seconds()), path.most_light)
    corners = tuple(sorted(CURVES[curve].corners()))
    return Target(name=curve, reachable=wanted, corners=corners, path=path)


# One channel


@dataclass(frozen=True, kw_only=True)
class Case:
    """One curve, response and number of rows: errors as a fraction of full, times in seconds."""

    curve: str
    response: str
    rows: int
    peak: float
    found: Fit
    error: float
    time_s: float
    others: dict[str, float]
    other_times: dict[str, float]

    @property
    def bound(self) -> float:
        """What no table within the rows can beat."""
        return self.found.certificate.bound

    @property
    def floor(self) -> float:
        """What no number of rows can beat."""
        return self.found.certificate.floor

    def ratio(self, other: str) -> float:
        """Return our error as a part of another's."""
        return ratio(self.error, self.others[other])

    def slowness(self, other: str) -> float:
        """Return our time as a multiple of another's."""
        return self.time_s / self.other_times[other]

    def reasons(self) -> str:
        """Return why the error is not within the bar, as far as the data shows."""
        least = ratio(self.bound, self.others["rdp"])
        if least > BAR:
            found = [f"no table within the rows reaches the bar (bound {least:.3f} of rdp)"]
        else:
            found = [f"5 % left to the second objective (bound {least:.3f} of rdp)"]
        if self.bound <= self.floor + NO_ERROR:
            found.append("the bound is the floor of the level grid")
        elif self.error <= 1.05 * self.floor + NO_ERROR:
            found.append("within 5 % of the floor of the level grid")
        if len(self.found.rows) < self.rows:
            found.append(f"uses {len(self.found.rows)} rows only")
        if self.peak < 0.1:
            found.append(f"peak of {self.peak * 100:.0f} %")
        return "; ".join(found)

    def line(self) -> str:
        """Return what to print."""
        parts = [
            f"{self.curve:11} {self.response:10} {self.rows:2} rows  exact {self.error * 100:6.3f}"
            f" (bound {self.bound * 100:6.3f}, floor {self.floor * 100:5.3f},"
            f" {len(self.found.rows):2} used)"
        ]
        parts += [
            f"{name} {error * 100:5.2f} ({self.ratio(name):4.2f})"
            for name, error in self.others.items()
        ]
        parts.append(f"{self.time_s * 1000:5.0f} ms ({self.slowness('squares'):5.2f} x squares)")
        return "  ".join(parts)


def ratio(ours: float, theirs: float) -> float:
    """Return an error as a part of another; 1 if neither is one."""
    if theirs <= NO_ERROR:
        return 1.0 if ours <= NO_ERROR else np.inf
    return ours / theirs


def timed(work: Callable[[], Result]) -> tuple[Result, float]:
    """Return what some work gives, and its time: the better of two unless it is long. [s]"""
    best, result = np.inf, None
    for _ in range(2):
        begin = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - begin)
        if best > LONG_S:
            break
    return result, float(best)


def measure(curve: str, response: str, target: Target, run: Run, rows: int) -> Case:
    """Return one case."""
    (found,), time_s = timed(lambda: fit([target], TIMES, rows))
    errors, times = {}, {}
    for name, choose in OTHERS.items():
        if name == "pwlf" and not ((curve, response) in PWLF_CASES and rows in PWLF_ROWS):
            continue
        table, times[name] = timed(lambda choose=choose: choose(run, rows))
        assert len(table) <= rows
        errors[name] = error_of(run.draft, table)
    return Case(
        curve=curve,
        response=response,
        rows=rows,
        peak=float(target.reachable.max()),
        found=found,
        error=error_of(run.draft, found.rows),
        time_s=time_s,
        others=errors,
        other_times=times,
    )


def all_cases(step: str) -> list[Case]:
    """Measure and print every case."""
    cases = []
    for curve in CURVES:
        for response in RESPONSES:
            target = target_of(curve, light_path(response, step))
            run = Run.of(target)
            for rows in ROWS:
                cases.append(measure(curve, response, target, run, rows))
                print(cases[-1].line(), flush=True)
    return cases


def summarise_errors(cases: list[Case]) -> None:
    """Print the ratios of errors, and the cases that miss the bar."""
    print("\nerror as a part of theirs")
    for name in OTHERS:
        ratios = [case.ratio(name) for case in cases if name in case.others]
        print(f"  {name:8} median {statistics.median(ratios):.2f}, worst {max(ratios):.2f},"
              f" above {BAR}: {sum(r > BAR for r in ratios)} of {len(ratios)}")  # fmt: skip
    beaten = [c for c in cases if min(c.others.values()) < c.bound - NO_ERROR]
    print(f"  tables of others below the bound, which would disprove it: {len(beaten)}")
    missed = [case for case in cases if case.ratio("rdp") > BAR]
    avoidable = sum(ratio(case.bound, case.others["rdp"]) <= BAR for case in missed)
    print(f"\nabove {BAR} of rdp: {len(missed)} of {len(cases)};"
          f" within reach of any table: {avoidable}")  # fmt: skip
    for case in missed:
        print(f"  {case.curve:11} {case.response:10} {case.rows:2} rows  {case.ratio('rdp'):.2f}"
              f"  {case.reasons()}")  # fmt: skip


def summarise_times(cases: list[Case]) -> None:
    """Print our times, and as multiples of others'."""
    print("\ntime per channel and day, with second objective and certificate")
    times = [case.time_s for case in cases]
    slowest = max(cases, key=lambda case: case.time_s)
    print(f"  median {statistics.median(times) * 1000:.0f} ms, worst {max(times) * 1000:.0f} ms"
          f" ({slowest.curve}, {slowest.response}, {slowest.rows} rows)")  # fmt: skip
    for name in ("squares", "pwlf", "rdp"):
        ratios = [case.slowness(name) for case in cases if name in case.other_times]
        theirs = [case.other_times[name] for case in cases if name in case.other_times]
        print(f"  against {name:8} median {statistics.median(ratios):6.2f} x,"
              f" worst {max(ratios):6.2f} x of {len(ratios)}; theirs: median"
              f" {statistics.median(theirs) * 1000:.0f} ms, worst {max(theirs) * 1000:.0f} ms")  # fmt: skip


# Memory


def peak_bytes(target: Target, rows: int) -> int:
    """Return the most memory that is allocated at a time while a channel is fitted."""
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        tracemalloc.reset_peak()
        fit([target], TIMES, rows)
        return tracemalloc.get_traced_memory()[1] - before
    finally:
        tracemalloc.stop()


def memory(step: str) -> None:
    """Print the peaks of memory, in a pass of its own: tracing takes time."""
    peaks = {
        (curve, response): peak_bytes(target_of(curve, light_path(response, step)), MEMORY_ROWS)
        for curve in CURVES
        for response in RESPONSES
    }
    (curve, response), most = max(peaks.items(), key=lambda item: item[1])
    print(f"\npeak of memory per channel and day, {MEMORY_ROWS} rows: median"
          f" {statistics.median(peaks.values()) / 2**20:.1f} MiB,"
          f" worst {most / 2**20:.1f} MiB ({curve}, {response})")  # fmt: skip


# Channels that share one column of times


def shared(step: str) -> None:
    """Print the fits of four channels with one column of times against line simplification."""
    print(f"\none column of times for {', '.join(SHARED_CURVES)}: the worst error of any channel;"
          " joint errors are in % of the peaks")  # fmt: skip
    ratios, times, slow = [], [], []
    for response in RESPONSES:
        path = light_path(response, step)
        targets = [target_of(curve, path) for curve in SHARED_CURVES]
        drafts = [ChannelProblem(target, TIMES) for target in targets]
        for rows in SHARED_ROWS:
            fits, time_s = timed(lambda targets=targets, rows=rows: fit(targets, TIMES, rows))
            seconds, simple_s = timed(lambda drafts=drafts, rows=rows: simplify(drafts, rows))
            error = worst_of(drafts, [found.rows for found in fits])
            simple = worst_of(drafts, [draft.rows(seconds) for draft in drafts])
            ratios.append(ratio(error, simple))
            times.append(time_s / len(targets))
            slow.append(time_s / simple_s)
            proof = fits[0].certificate
            print(f"  {response:10} {rows:2} rows  {fits[0].method:14} {error * 100:6.3f}"
                  f" ({len(fits[0].rows):2} used; joint {percent(proof.joint_error)},"
                  f" bound {percent(proof.joint_bound)})"
                  f"  simplify {simple * 100:6.3f} ({ratios[-1]:4.2f})"
                  f"  {times[-1] * 1000:5.0f} ms per channel", flush=True)  # fmt: skip
    print(f"  error as a part of simplify: median {statistics.median(ratios):.2f}, worst"
          f" {max(ratios):.2f}, above {BAR}: {sum(r > BAR for r in ratios)} of {len(ratios)}")  # fmt: skip
    print(f"  time per channel and day: median {statistics.median(times) * 1000:.0f} ms, worst"
          f" {max(times) * 1000:.0f} ms; against simplify: median {statistics.median(slow):.1f} x")  # fmt: skip


def worst_of(drafts: Sequence[ChannelProblem], tables: Sequence[Rows]) -> float:
    """Return the worst error of some channels."""
    return max(error_of(draft, rows) for draft, rows in zip(drafts, tables, strict=True))


def percent(error: float | None) -> str:
    """Return an error to print, or that there is none."""
    return "  none" if error is None else f"{error * 100:6.3f}"


def main() -> None:
    """Print a line for every case, then the summaries."""
    step = sys.argv[1] if len(sys.argv) > 1 else "1"
    print(f"worst errors at samples in % of full (our error as a part of it); levels of {step} %,"
          " rows on whole minutes")  # fmt: skip
    cases = all_cases(step)
    summarise_errors(cases)
    summarise_times(cases)
    memory(step)
    shared(step)


if __name__ == "__main__":
    main()
