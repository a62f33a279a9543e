"""The exact fit against a mixed-integer program: real levels, any grid time may be a corner.

With a linear ballast light is linear in the level, so the light of a table is a line through its
corners but for the rounding of levels. The program chooses the corners by binary variables, minimises
the worst error at the samples, and is solved by SciPy's HiGHS, which knows nothing of the fit.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from photoperiod.arrays import Floats
from photoperiod.curves.curve import Curve, Profile, Segment, day_seconds, ramp_profile
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Target, fit
from tests.oracle.enumerator import DAY, Enumerator

HOUR = 3600

#: Light from 1 % at 0 V to all at 10 V: linear in every level, that of the dark row included.
LINEAR = BallastCurve(
    kind="linear", floor_volts=0.0, full_volts=10.0, floor_light=0.01, dark="relay"
)

#: Second differences of light from 0 to 1 are within this.
STEEPEST = 2.0

#: What HiGHS calls feasible and optimal, with the resolution of the proof [fraction of full].
SOLVER_SLACK = 2e-6


@dataclass(frozen=True)
class Lit:
    """Grid times at which the lamp is lit: the first, how many, and what follows them."""

    start: int
    length: int
    then: str  # "dark", "held" until midnight, "circle"


def lit_runs(tries: Enumerator) -> list[Lit]:
    """The lit runs of a day, cut at midnight where the table does not wrap."""
    steps, lit = tries.steps, tries.lit
    if all(lit):
        return [Lit(0, steps, "circle" if tries.times.wraps else "held")]
    begins = [
        s for s in range(steps) if lit[s] and (not lit[s - 1] or (s == 0 and not wraps(tries)))
    ]
    runs = []
    for begin in begins:
        stop = begin
        while lit[stop % steps] and (wraps(tries) or stop < steps):
            stop += 1
        held = stop == steps and not wraps(tries)
        runs.append(Lit(begin, stop - begin, "held" if held else "dark"))
    return runs


def wraps(tries: Enumerator) -> bool:
    return tries.times.wraps


def least_error(tries: Enumerator, rows_most: int) -> float:
    """The least worst error of all tables with real levels, of so many rows."""
    floor = tries.path.ballast.floor_light
    least, most = tries.allowed
    per_step, sample_s = tries.times.step_s // tries.sample_s, tries.sample_s
    runs = lit_runs(tries)
    # The rows that must stand are the lighting rows, which are corners, and those in the dark.
    corners_most = rows_most - sum(not tries.lit[step] for step in tries.needed)
    # Variables: the error, then for each run its lights at the grid times and whether these are rows.
    firsts = np.cumsum([1] + [2 * run.length for run in runs])
    size = int(firsts[-1])
    lower, upper = np.zeros(size), np.ones(size)
    whole = np.zeros(size)
    entries: list[tuple[dict[int, float], float, float]] = []  # coefficients, lower, upper end
    corners: dict[int, float] = {}
    for run, first in zip(runs, firsts.tolist(), strict=False):
        length = run.length
        lower[first : first + length] = floor
        whole[first + length : first + 2 * length] = 1
        corners |= {first + length + i: 1.0 for i in range(length)}
        if run.then != "circle":
            lower[first + length] = 1.0  # the row that lights, or that of midnight

        def light(i: int, first: int = first, run: Lit = run) -> tuple[dict[int, float], float]:
            """The light at a grid time of the run as coefficients and a constant."""
            if i == run.length and run.then == "dark":
                return {}, floor  # level 0 in the row that switches off
            if i == run.length and run.then == "held":
                return {first + i - 1: 1.0}, 0.0
            return {first + i % run.length: 1.0}, 0.0

        for i in range(length):
            for k in range(
                per_step
            ):  # at a sample between grid times, the line between their lights
                second = ((run.start + i) * tries.times.step_s + k * sample_s) % DAY
                terms, constant = mixed(
                    [(light(i), 1 - k / per_step), (light(i + 1), k / per_step)]
                )
                entries.append(({**terms, 0: 1.0}, least[second] - constant, np.inf))
                entries.append(({**terms, 0: -1.0}, -np.inf, most[second] - constant))
            if i or run.then == "circle":  # without a row here the line goes straight on
                around = [(light((i - 1) % length), 1.0), (light(i), -2.0), (light(i + 1), 1.0)]
                terms, constant = mixed(around)
                row = first + length + i
                entries.append(({**terms, row: STEEPEST}, -constant, np.inf))
                entries.append(({**terms, row: -STEEPEST}, -np.inf, -constant))
    entries.append((corners, -np.inf, corners_most))
    solved = milp(
        c=np.eye(1, size)[0],
        integrality=whole,
        bounds=Bounds(lower, upper),
        constraints=LinearConstraint(*matrix(entries, size)),
        options={"mip_rel_gap": 1e-6, "time_limit": 30.0},
    )
    assert solved.success, solved.message
    return float(solved.fun)


def mixed(
    parts: list[tuple[tuple[dict[int, float], float], float]],
) -> tuple[dict[int, float], float]:
    """A weighted sum of lights."""
    total: dict[int, float] = {}
    constant = 0.0
    for (terms, own), weight in parts:
        constant += weight * own
        for column, value in terms.items():
            total[column] = total.get(column, 0.0) + weight * value
    return total, constant


def matrix(
    entries: list[tuple[dict[int, float], float, float]], size: int
) -> tuple[csr_array, Floats, Floats]:
    rows = [number for number, entry in enumerate(entries) for _ in entry[0]]
    columns = [column for entry in entries for column in entry[0]]
    values = [value for entry in entries for value in entry[0].values()]
    shape = (len(entries), size)
    ends = np.array([entry[1:] for entry in entries])
    # SciPy 1.14's solver takes indices of 32 bits only.
    at = (np.array(rows, dtype=np.int32), np.array(columns, dtype=np.int32))
    return csr_array((values, at), shape=shape), ends[:, 0], ends[:, 1]


def day(start: float, dawn: float, light: float, end: float, dusk: float, shape: str) -> Profile:
    first, last = round(start * HOUR), round(end * HOUR)
    ramps = [(first, round(dawn * HOUR), light, shape)]
    return ramp_profile(first, ramps, last, round(dusk * HOUR), shape)


def wandering(seed: int) -> Curve:
    """A day of random straight ramps."""
    chance = random.Random(seed)
    hours = sorted(chance.sample(range(7, 22), 6))
    lights = [chance.uniform(0.05, 1.0) for _ in hours]
    pieces = itertools.pairwise(zip(hours, lights, strict=True))
    segments = [Segment(a * HOUR, b * HOUR, x, y) for (a, x), (b, y) in pieces]
    return Curve((Profile(tuple(segments)),))


SINE = Curve((day(7.2, 5, 0.9, 20.7, 6, "sine"),))
TWO_RUNS = Curve((day(9, 3, 0.8, 18, 4, "smooth"), day(20, 2, 0.3, 30, 5, "linear")))
NIGHT = Curve((day(17, 4, 0.7, 32, 5, "smooth"),))


@dataclass(frozen=True)
class Case:
    """A plan on a grid of ``step_s``, looked at ``looks`` times in a step, with numbers of rows."""

    curve: Curve
    limits: tuple[int, ...]
    step_s: int = 1800
    looks: int = 1
    millivolts: int = 10
    after: str = "wrap"
    dark: str = "relay"
    rounding: str = "half-up"


CASES = {
    "sine": Case(SINE, (3, 4)),
    "ramps": Case(wandering(6), (4, 6)),
    "ramps, looked at between rows": Case(wandering(10), (4, 5), looks=2),
    "ramps, rounded down": Case(wandering(8), (5, 6), looks=4, rounding="down"),
    "ramps, rounded to the last row": Case(
        wandering(2), (4, 5), looks=4, rounding="toward-last-row"
    ),
    "two runs": Case(TWO_RUNS, (5, 6), step_s=3600),
    "over midnight": Case(NIGHT, (3, 4)),
    "over midnight without wrapping": Case(NIGHT, (4, 5), step_s=3600, looks=2, after="hold"),
    "never dark": Case(wandering(0), (3, 5), step_s=7200, millivolts=100, dark="never"),
    "never dark without wrapping": Case(
        wandering(3), (5,), step_s=3600, looks=2, after="hold", dark="never"
    ),
}


#: One of each kind; the others are slow.
QUICK = ("ramps", "never dark")


@pytest.mark.parametrize(
    "name",
    [name if name in QUICK else pytest.param(name, marks=pytest.mark.slow) for name in CASES],
)
def test_the_bound_is_that_of_the_program_but_for_the_levels(name: str) -> None:
    case = CASES[name]
    ballast = replace(LINEAR, dark=case.dark)
    levels = LevelGrid(
        unit="millivolts",
        step=Fraction(case.millivolts),
        every_seconds=case.step_s // case.looks,
        rounding=case.rounding,
    )
    path = LightPath(
        levels=levels,
        converter=Converter.nominal(10, 10.24, 10.0),  # 10 mV a code: every level is a code
        ballast=ballast,
        relay=RelayMode(kind="none" if case.dark == "never" else "column"),
    )
    reachable = ballast.reachable(case.curve.light(day_seconds()), path.most_light)
    times = TimeGrid(step_s=case.step_s, between="line", after_last_row=case.after)
    tries = Enumerator(
        reachable=reachable,
        times=times,
        path=path,
        sample_s=levels.every_seconds,
        tolerance_s=case.step_s // 2,
    )
    aim = Target(name=name, reachable=reachable, corners=(), path=path)
    count = case.millivolts / 10_000 * (1.0 - ballast.floor_light)  # light of one count
    for limit in case.limits:
        optimum = least_error(tries, limit)
        (found,) = fit([aim], times, limit)
        proof = found.certificate
        assert proof.sample_s == tries.sample_s
        assert found.method == "exact"
        # Round the program's corners to whole counts: they and the lines between them move by half
        # a count at most. What is put out is within `lost` of such a line. So some table is within
        # half a count and `lost` of the optimum, and no true bound is above it. The other way
        # round, the lines of any table solve the program, but for what its rounding gains.
        # The certified bound is what the best table has; the one that is given has 5 % more at most.
        lost = count * (0.5 if case.rounding == "half-up" else 1.0)
        assert optimum > count  # else the levels are all there is to see
        assert (
            optimum - lost - SOLVER_SLACK
            <= proof.bound
            <= optimum + count / 2 + lost + SOLVER_SLACK
        )
        assert proof.bound <= proof.error <= 1.05 * proof.bound + SOLVER_SLACK
