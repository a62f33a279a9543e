"""The joint certificate of channels with one column of times against all legal columns.

For given times the channels do not depend on each other, so every set of times is gone through, and
for each channel all levels at them (`tests.oracle.enumerator`, which shares no code with the fit).
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from photoperiod.curves.curve import Curve, Profile, Segment, day_seconds, ramp_profile
from photoperiod.drive.grid import TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Fit, Target, fit
from photoperiod.setpoints.problem import ChannelProblem
from tests.oracle.enumerator import Enumerator
from tests.setpoints.test_single import (
    COLUMN,
    FOLLOWS,
    LINEAR,
    LOG,
    NEVER,
    NONE,
    ROUNDINGS,
    STANDBY,
    lamp,
    random_curve,
)

HOUR = 3600

#: Resolution of the joint bound, and what counts as a twentieth worse [share of peak].
RESOLUTION, NEARLY_BEST, SLACK = 1e-6, 1.05, 1e-5

#: An error above the floor by less is the floor's, as both are known to 1e-7 [fraction of full].
FLOOR_SLACK = 3e-7

LIGHT_TOLERANCE = 1e-9


def day(
    start: float, dawn: float, light: float, end: float, dusk: float, shape: str = "sine"
) -> Curve:
    first, last = round(start * HOUR), round(end * HOUR)
    ramps = [(first, round(dawn * HOUR), light, shape)]
    return Curve((ramp_profile(first, ramps, last, round(dusk * HOUR), shape),))


def steady(start: float, end: float, light: float) -> Curve:
    return Curve((Profile((Segment(round(start * HOUR), round(end * HOUR), light, light),)),))


NOON = day(8.2, 4, 0.9, 20.1, 4)
SHORT = day(10, 2, 0.5, 16, 3, "linear")
LATE = day(13.7, 4, 0.7, 23.2, 2, "smooth")
MOON = steady(20.3, 31.6, 0.12)
LONG_NIGHT = day(18.2, 3, 0.3, 34, 4)
STEPS = Curve((Profile((Segment(6 * HOUR, 11 * HOUR, 0.3, 0.3), Segment(11 * HOUR, 15 * HOUR, 0.8, 0.8),
                     Segment(15 * HOUR, 22 * HOUR, 0.5, 0.1))),))  # fmt: skip

DARK = Curve(())

FINE = lamp(LINEAR, every=1800)
COARSE = lamp(LOG, step="20", every=1800)

#: Channels as (curve, lamp, weight).
Channels = Sequence[tuple[Curve, LightPath, float]]

COLUMNS: dict[str, Channels] = {
    "one lit over the other's night": ((NOON, FINE, 1.0), (MOON, FINE, 1.0)),
    "weights": ((NOON, FINE, 1.0), (STEPS, COARSE, 4.0)),
    "overlapping nights": ((NOON, FINE, 1.0), (LATE, COARSE, 1.0)),
    "one day within the other": ((STEPS, FINE, 2.0), (SHORT, FINE, 1.0)),
    "over midnight": ((LONG_NIGHT, FINE, 1.0), (SHORT, COARSE, 0.5)),
    "never dark beside a day": (
        (NOON, lamp(NEVER, NONE, "20", 1800), 1.0),
        (SHORT, lamp(LINEAR, NONE, "20", 1800), 1.0),
    ),
    "dark by the level": (
        (NOON, lamp(STANDBY, NONE, "20", 1800), 1.0),
        (SHORT, lamp(STANDBY, NONE, "20", 1800), 2.0),
    ),
    "relay follows": (
        (LATE, lamp(LINEAR, FOLLOWS, "20", 1800), 1.0),
        (MOON, lamp(LINEAR, FOLLOWS, "20", 1800), 1.0),
    ),
    "never dark beside a night without its moon": (
        (LONG_NIGHT, lamp(NEVER, NONE, "20", 1800), 1.0),
        (DARK, FINE, 1.0),
    ),
    "never dark beside a lamp that its level keeps dark": (
        (STEPS, lamp(NEVER, NONE, "20", 1800), 1.0),
        (DARK, lamp(STANDBY, NONE, "20", 1800), 1.0),
    ),
    "dark all day beside a day": (
        (SHORT, FINE, 1.0),
        (DARK, lamp(LINEAR, FOLLOWS, "10", 1800), 1.0),
    ),
    "three": ((NOON, FINE, 1.0), (SHORT, COARSE, 1.0), (MOON, FINE, 0.5)),
}

GRIDS = {
    f"{between} {after}": TimeGrid(step_s=3 * HOUR, between=between, after_last_row=after)
    for between in ("line", "hold")
    for after in ("wrap", "hold")
}


class Column:
    """Channels that share their times, each with its enumerator."""

    def __init__(
        self,
        channels: Channels,
        times: TimeGrid,
        rounding: str,
        may_exceed: bool = True,
        guarded: frozenset[int] = frozenset(),
    ) -> None:
        self.times = times
        self.targets, self.tries = [], []
        for number, (curve, path, weight) in enumerate(channels):
            rounded = replace(path, levels=replace(path.levels, rounding=rounding))
            reachable = path.ballast.reachable(curve.light(day_seconds()), path.most_light)
            self.targets.append(
                Target(
                    name=f"channel {number}",
                    reachable=reachable,
                    corners=tuple(sorted(curve.corners())),
                    path=rounded,
                    weight=weight,
                    may_exceed=may_exceed,
                    is_guarded=number in guarded,
                )
            )
            self.tries.append(
                Enumerator(
                    reachable=reachable,
                    times=times,
                    path=rounded,
                    sample_s=1 if times.between == "hold" else path.levels.every_seconds,
                    tolerance_s=times.step_s // 2,
                    may_exceed=may_exceed,
                    is_guarded=number in guarded,
                )
            )
        self.floors = [tries.best(tries.steps)[-1] for tries in self.tries]

    def joint(self, errors: Sequence[float]) -> float:
        """The least x at which every error is at most x of its peak over its weight, or its floor."""
        return max(
            0.0 if error <= floor + FLOOR_SLACK else error * target.weight / target.reachable.max()
            for error, floor, target in zip(errors, self.floors, self.targets, strict=True)
        )

    def best(self) -> list[float]:
        """The least joint error of all legal columns of at most 1, 2 … rows."""
        steps = self.tries[0].steps
        needed = set().union(*(tries.needed for tries in self.tries))
        free = [step for step in range(steps) if step not in needed]
        result = [math.inf] * steps
        for number in range(len(free) + 1):
            for more in itertools.combinations(free, number):
                chosen = sorted(needed | set(more))
                if chosen:
                    errors = [tries.at_times(chosen) for tries in self.tries]
                    rows = len(chosen) - 1
                    result[rows] = min(result[rows], self.joint(errors))
        return list(itertools.accumulate(result, min))


def faults(column: Column, fits: Sequence[Fit], best: Sequence[float], limit: int) -> list[str]:
    """What is wrong with the fits of a column; ``best`` is the least for 1, 2 … rows."""
    wrong = []
    fewest = next(number for number, error in enumerate(best, 1) if error < math.inf)
    optimum = best[min(max(limit, fewest), len(best)) - 1]
    seconds = [tuple(row.second for row in found.rows) for found in fits]
    if len(set(seconds)) > 1:
        wrong.append(f"times differ: {seconds}")
    if len(seconds[0]) > max(limit, fewest):
        wrong.append(f"{len(seconds[0])} rows")
    measured = [tries.measure(f.rows) for tries, f in zip(column.tries, fits, strict=True)]
    joint = column.joint(measured)
    has_lost_night = any(
        ChannelProblem(target, found.times).night_step is not None
        for target, found in zip(column.targets, fits, strict=True)
    )
    if joint > NEARLY_BEST * optimum + SLACK:
        wrong.append(f"the joint error {joint:.6f} is not near the best, {optimum:.6f}")
    for found, tries, error, floor in zip(fits, column.tries, measured, column.floors, strict=True):
        proof = found.certificate
        wrong += tries.faults(found.rows)
        if found.rows_needed != fewest:
            wrong.append(f"{found.rows_needed} rows are said to be needed, not {fewest}")
        if abs(proof.error - error) > LIGHT_TOLERANCE:
            wrong.append(f"the error is {error:.7f}, not {proof.error:.7f}")
        if proof.floor > floor + FLOOR_SLACK:
            wrong.append(f"the floor {proof.floor:.7f} is above {floor:.7f}")
        if proof.joint_error is None or proof.joint_bound is None:
            wrong.append("no joint certificate")
            continue
        if proof.joint_bound > optimum + RESOLUTION:
            wrong.append(f"the bound {proof.joint_bound:.6f} is above the best, {optimum:.6f}")
        # Of tables that keep a night which the grid has no step for, the bound leaves out the steps at its
        # ends: it may be below the best.
        if not proof.is_best and not has_lost_night:
            wrong.append(
                f"{proof.joint_error:.6f} is not proven, the bound: {proof.joint_bound:.6f}"
            )
        if abs(proof.joint_error - joint) > RESOLUTION:
            wrong.append(f"the joint error is {joint:.6f}, not {proof.joint_error:.6f}")
        if proof.floor_rows is not None and best[proof.floor_rows - 1] > SLACK:
            wrong.append(f"{proof.floor_rows} rows do not reach the floor")
    return wrong


#: Channels that are dark by a row, whose floor is below every plan: never exceeding it is possible.
KEPT = ("one lit over the other's night", "overlapping nights", "never dark beside a day", "three")


# 12 columns on four grids, all three roundings among them, and 4 that may not exceed their plans.
@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.parametrize(
    ("name", "may_exceed"), [*((n, True) for n in COLUMNS), *((n, False) for n in KEPT)]
)
def test_no_legal_column_is_better_than_the_certificate_says(
    name: str, may_exceed: bool, grid: str
) -> None:
    number = list(COLUMNS).index(name) + list(GRIDS).index(grid)
    rounding = ("half-up", "down", "toward-last-row")[number % 3]
    column = Column(COLUMNS[name], GRIDS[grid], rounding, may_exceed)
    best = column.best()
    fewest = next(rows for rows, error in enumerate(best, 1) if error < math.inf)
    limit = fewest + number % 4
    fits = fit(column.targets, column.times, limit)
    wrong = faults(column, fits, best, limit)
    assert not wrong, f"{limit} rows, {rounding}: " + "\n".join(wrong)


@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("guarded", [{0}, {0, 1}], ids=["one", "both"])
@pytest.mark.parametrize("name", ["overlapping nights", "one lit over the other's night"])
def test_no_legal_column_with_guard_rows_is_better(
    name: str, guarded: set[int], after: str
) -> None:
    times = GRIDS[f"line {after}"]
    column = Column(COLUMNS[name], times, "half-up", guarded=frozenset(guarded))
    plain = Column(COLUMNS[name], times, "half-up")
    needed, fewer = (
        len(set().union(*(tries.needed for tries in each.tries))) for each in (column, plain)
    )
    assert needed > fewer
    best = column.best()
    fits = fit(column.targets, times, needed + 1)
    assert not (wrong := faults(column, fits, best, needed + 1)), "\n".join(wrong)


def test_one_channel_of_its_own_has_no_joint_certificate() -> None:
    column = Column(COLUMNS["weights"], GRIDS["line wrap"], "half-up")
    (found,) = fit(column.targets[:1], column.times, 6)
    assert found.certificate.joint_error is None
    assert found.certificate.joint_bound is None


def test_a_lamp_that_is_never_dark_holds_nobody_back_at_its_floor() -> None:
    # Between rows three hours apart the second lamp strays by 3.3 % at the least, with all rows that
    # can be; five are enough for that, and for a day of the first one without any error.
    never_dark = (SHORT, lamp(NEVER, NONE, "20", 1800), 1.0)
    column = Column(((NOON, FINE, 1.0), never_dark), GRIDS["line wrap"], "half-up")
    assert column.floors == pytest.approx([0.0, 1 / 30], abs=1e-9)
    best = column.best()
    assert best[4] == 0.0
    fits = fit(column.targets, column.times, 5)
    assert faults(column, fits, best, 5) == []


ANY_LAMP = (
    lamp(STANDBY, NONE, "20", 1800),
    lamp(LINEAR, FOLLOWS, "10", 1800),
    lamp(NEVER, NONE, "20", 1800),
    lamp(LINEAR, COLUMN, "20", 1800),
    lamp(NEVER, COLUMN, "20", 1800),
)


def any_curve(chance: random.Random) -> Curve:
    kind = chance.randrange(4)
    if kind == 0:
        return DARK
    if kind == 1:
        start = chance.uniform(0, 24)
        return steady(start, start + chance.uniform(0.2, 20), chance.uniform(0.05, 1))
    return random_curve(chance, until_midnight=False)


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(n, marks=pytest.mark.slow) for n in range(2, 30))]
)
def test_any_two_lamps_on_coarse_grids(seed: int) -> None:
    chance, wrong = random.Random(seed), []
    for number in range(10):
        times = TimeGrid(
            step_s=chance.choice([3, 4, 6]) * HOUR,
            between=chance.choice(["line", "line", "hold"]),
            after_last_row=chance.choice(["wrap", "hold"]),
        )
        channels = [
            (any_curve(chance), chance.choice(ANY_LAMP), chance.choice([1.0, 1.0, 2.0]))
            for _ in range(2)
        ]
        column = Column(channels, times, chance.choice(ROUNDINGS), chance.random() < 0.85)
        more = chance.randrange(-1, 3)
        if math.inf in column.floors:
            continue  # a first level that would exceed its plan
        best = column.best()
        fewest = next(rows for rows, error in enumerate(best, 1) if error < math.inf)
        limit = max(fewest + more, 1)
        found = faults(column, fit(column.targets, times, limit), best, limit)
        wrong += [f"{number}, {times}, {limit} rows: {fault}" for fault in found]
    assert not wrong, "\n".join(wrong)


def test_the_cut_of_a_day_is_not_midnight_for_a_moon_that_is_dark() -> None:
    # From 10 % up to 48 % between 05:00 and 07:00, and down from 10:00 to 13:00: three rows two hours
    # apart or more give no error, but none of them stands at 00:00, where a dark moon needs no row.
    times = TimeGrid(step_s=2 * HOUR, between="line", after_last_row="wrap")
    dark = (DARK, lamp(LINEAR, every=HOUR), 1.0)
    never_dark = (day(5, 2, 0.48, 10, 3, "linear"), lamp(NEVER, NONE, every=HOUR), 1.0)
    column = Column((never_dark, dark), times, "half-up")
    best = column.best()
    assert best[2] == 0.0
    fits = fit(column.targets, times, 3)
    assert faults(column, fits, best, 3) == []
    assert fits[0].rows[0].second > 0
