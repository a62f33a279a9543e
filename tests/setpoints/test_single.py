"""The certificate of a table against all legal tables of small instances.

Time steps of two to eight hours and levels of 8 to 25 % leave few enough tables to go through all of
them (`tests.oracle.enumerator`, which shares no code with the fit).
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import pytest

from photoperiod.curves.curve import Curve, Segment, day_seconds, ramp_profile
from photoperiod.curves.curve import Profile as CurvePart
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Fit, Target, fit
from tests.oracle.enumerator import DAY, Enumerator

HOUR = 3600

ROUNDINGS = ("half-up", "down", "toward-last-row")

#: The resolution of the proof, and what counts as a twentieth worse [fraction of full].
RESOLUTION, NEARLY_BEST, SLACK = 2e-7, 1.05, 1e-6

#: Light computed in two ways in double precision [fraction of full].
LIGHT_TOLERANCE = 1e-9

LOG = BallastCurve(kind="log-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay")
LINEAR = BallastCurve(
    kind="linear", floor_volts=1.0, full_volts=10.0, floor_light=0.1, dark="relay"
)
SQUARE = replace(LOG, kind="square-law", floor_light=0.02)
STANDBY = replace(LINEAR, dark="standby", standby_volts=0.5)
NEVER = replace(LINEAR, dark="never")
TEN_MILLIVOLTS = Converter.nominal(10, 10.24, 10.0)
#: 8 bits, measured: 0.2 V at code 0, and the top of the port short of the last code.
MEASURED = Converter.two_point(8, (26, 1.31), (230, 9.47), 10.0)
COLUMN = RelayMode(kind="column")
FOLLOWS = RelayMode(kind="follows-level", on_level_percent=15.0)
NONE = RelayMode(kind="none")


def lamp(
    ballast: BallastCurve,
    relay: RelayMode = COLUMN,
    step: str = "10",
    every: int = 60,
    unit: str = "percent",
    converter: Converter = TEN_MILLIVOLTS,
) -> LightPath:
    levels = LevelGrid(unit=unit, step=Fraction(step), every_seconds=every, rounding="half-up")
    return LightPath(levels=levels, converter=converter, ballast=ballast, relay=relay)


@dataclass(frozen=True, kw_only=True)
class Family:
    """Instances of one kind: every lamp on every grid, each with some random plans."""

    lamps: tuple[LightPath, ...]
    grids: tuple[TimeGrid, ...]
    plans: int
    may_exceed: bool = True
    until_midnight: bool = False
    is_guarded: bool = False


def grids(steps: tuple[int, ...], between: str = "line",
          after: tuple[str, ...] = ("wrap", "hold")) -> tuple[TimeGrid, ...]:  # fmt: skip
    return tuple(
        TimeGrid(step_s=hours * HOUR, between=between, after_last_row=a)
        for hours in steps
        for a in after
    )


FAMILIES = {
    # 10 % of level are 67 % more light on the logarithm, and 20 % more than double it.
    "floor jump": Family(
        lamps=(lamp(LOG, every=1), lamp(LOG, step="20")), grids=grids((2,)), plans=1
    ),
    "floor of a tenth": Family(
        lamps=(lamp(LINEAR, step="25/2"),), grids=grids((2, 4)), plans=1
    ),
    "calibrated": Family(
        lamps=(lamp(SQUARE, step="25/2", converter=MEASURED),), grids=grids((2, 3)), plans=1
    ),
    "codes": Family(
        lamps=(lamp(SQUARE, step="24", unit="code", converter=MEASURED),),
        grids=grids((3,)),
        plans=1,
    ),
    "held": Family(
        lamps=(lamp(LOG), lamp(SQUARE, step="25", unit="code", converter=MEASURED)),
        grids=grids((2,), "hold"),
        plans=1,
    ),
    "standby": Family(
        lamps=(
            lamp(STANDBY, NONE),
            lamp(STANDBY, COLUMN, "5", 1800),
            lamp(replace(STANDBY, keeps_mains=True), COLUMN, "10", 1800),
        ),
        grids=grids((3,)), plans=1
    ),
    "relay follows": Family(
        lamps=(lamp(LINEAR, FOLLOWS), lamp(LOG, FOLLOWS, every=1800)), grids=grids((3,)), plans=1
    ),
    "dark by the level, held": Family(
        lamps=(lamp(STANDBY, NONE), lamp(LOG, FOLLOWS)), grids=grids((3,), "hold"), plans=1
    ),
    "never dark": Family(
        lamps=(lamp(NEVER, NONE, "25/2", 7200),), grids=grids((4,)), plans=2
    ),
    "never dark, more samples than rows": Family(
        lamps=(lamp(NEVER, NONE, "25", 1200),), grids=grids((6,)), plans=1
    ),
    "never dark, held": Family(
        lamps=(lamp(NEVER, NONE, "20"),), grids=grids((3, 4), "hold"), plans=1
    ),
    "never exceeded": Family(
        lamps=(lamp(LOG), lamp(SQUARE, step="25/2", every=1800, converter=MEASURED)),
        grids=grids((3,)), plans=1, may_exceed=False,
    ),
    "never exceeded, never dark": Family(
        lamps=(lamp(NEVER, NONE, "25/2", 7200),), grids=grids((4,)), plans=2, may_exceed=False
    ),
    "never exceeded, held": Family(
        lamps=(lamp(LOG), lamp(NEVER, NONE, "20")), grids=grids((4,), "hold"), plans=1,
        may_exceed=False,
    ),
    "guarded": Family(
        lamps=(lamp(LOG, step="25/2"), lamp(LINEAR, step="20", every=1)), grids=grids((3,)), plans=1,
        is_guarded=True,
    ),
    "guarded, never exceeded": Family(
        lamps=(lamp(SQUARE, step="25/2"),), grids=grids((3,)), plans=2, may_exceed=False,
        is_guarded=True,
    ),
    "lit until midnight": Family(
        lamps=(lamp(LINEAR),), grids=grids((3, 4), after=("hold",)), plans=2, until_midnight=True
    ),
}  # fmt: skip


def random_curve(chance: random.Random, until_midnight: bool) -> Curve:
    """A day of one to three peaks on any second, sometimes with a faint night beside it."""
    length = chance.randrange(6 * HOUR, 20 * HOUR)
    midnight = DAY + chance.randrange(-HOUR, HOUR)
    start = midnight - length if until_midnight else chance.randrange(DAY)
    end = start + length
    peaks, now = [], start
    for _ in range(chance.randint(1, 3)):
        ramp = chance.choice(
            [0, chance.randrange(HOUR, 4 * HOUR), chance.randrange(HOUR, 8 * HOUR)]
        )
        if now + ramp > end - HOUR:
            break
        shape = chance.choice(["linear", "sine", "smooth", "perceptual"])
        peaks.append((now, ramp, chance.uniform(0.05, 1.0), shape))
        now += ramp + chance.randrange(2 * HOUR)
    dusk = min(chance.choice([0, chance.randrange(HOUR, 5 * HOUR)]), max(end - now, 0))
    parts = [ramp_profile(start, peaks, max(end, now), dusk, chance.choice(["linear", "smooth"]))]
    if chance.random() < 0.2 and not until_midnight:
        moon, light = end + chance.randrange(HOUR), chance.uniform(0.02, 0.2)
        parts.append(CurvePart((Segment(moon, moon + 3 * HOUR, light, light),)))
    return Curve(tuple(parts))


def instance(
    curve: Curve,
    path: LightPath,
    times: TimeGrid,
    may_exceed: bool = True,
    is_guarded: bool = False,
) -> tuple[Target, Enumerator]:
    """A plan on a grid, for the fit and for the enumerator; samples are as documented."""
    reachable = path.ballast.reachable(curve.light(day_seconds()), path.most_light)
    every = path.levels.every_seconds
    sample_s = max(s for s in range(every, max(60, every) + 1, every) if times.step_s % s == 0)
    tries = Enumerator(
        reachable=reachable,
        times=times,
        path=path,
        sample_s=1 if times.between == "hold" else sample_s,
        tolerance_s=times.step_s // 2,
        may_exceed=may_exceed,
        is_guarded=is_guarded,
    )
    corners = tuple(sorted(curve.corners()))
    aim = Target(
        name="lamp", reachable=reachable, corners=corners, path=path, may_exceed=may_exceed,
        is_guarded=is_guarded,
    )  # fmt: skip
    return aim, tries


def rounded(path: LightPath, rounding: str) -> LightPath:
    return replace(path, levels=replace(path.levels, rounding=rounding))


def instances(family: Family, rounding: str) -> Iterator[tuple[Target, Enumerator, int]]:
    """Every plan of a family with a number of rows, the fewest or some more."""
    number = itertools.count()
    for path, times in itertools.product(family.lamps, family.grids):
        for _ in range(family.plans):
            seed = next(number)
            curve = random_curve(random.Random(f"{seed} {rounding}"), family.until_midnight)
            aim, tries = instance(
                curve, rounded(path, rounding), times, family.may_exceed, family.is_guarded
            )
            if not times.wraps and tries.goes_dark(0) is not family.until_midnight:
                continue
            name = f"{times}, {path.ballast.dark}, plan {seed}"
            yield replace(aim, name=name), tries, max(len(tries.needed), 1) + seed % 5


def faults(found: Fit, tries: Enumerator, best: list[float], limit: int) -> list[str]:
    """What is wrong with a fit; ``best`` are the least errors for 1, 2 … rows."""
    proof, rows = found.certificate, found.rows
    wrong = tries.faults(rows)
    fewest = next(number for number, error in enumerate(best, 1) if error < 1.0 + SLACK)
    if found.rows_needed != fewest:
        wrong.append(f"{found.rows_needed} rows are said to be needed, not {fewest}")
    if len(rows) > max(limit, fewest):
        wrong.append(f"{len(rows)} rows")
    optimum = best[min(max(limit, fewest), len(best)) - 1]
    if proof.bound > optimum + RESOLUTION:
        wrong.append(f"the bound {proof.bound:.7f} is above the best, {optimum:.7f}")
    if proof.error > NEARLY_BEST * optimum + SLACK:
        wrong.append(f"the error {proof.error:.7f} is not near the best, {optimum:.7f}")
    if not proof.is_best:
        wrong.append(f"the error {proof.error:.7f} is not proven, the bound is {proof.bound:.7f}")
    if abs(tries.measure(rows) - proof.error) > LIGHT_TOLERANCE:
        wrong.append(f"the error is {tries.measure(rows):.7f}, not {proof.error:.7f}")
    if (proof.sample_s, proof.tolerance_s) != (tries.sample_s, tries.tolerance_s):
        wrong.append(f"samples {proof.sample_s} s, tolerance {proof.tolerance_s} s")
    if proof.floor > best[-1] + RESOLUTION:
        wrong.append(f"the floor {proof.floor:.7f} is above {best[-1]:.7f}")
    if proof.floor_rows is not None and best[proof.floor_rows - 1] > proof.floor + SLACK:
        wrong.append(f"{proof.floor_rows} rows do not reach the floor {proof.floor:.7f}")
    if proof.half_rows is not None:
        half, fewer = proof.error / 2, best[proof.half_rows - 2] if proof.half_rows > 1 else 1.0
        if best[proof.half_rows - 1] > half + SLACK or fewer < half - SLACK:
            wrong.append(f"{proof.half_rows} rows are not the fewest that halve the error")
    return wrong


# 17 families in three roundings, together of more than twenty million legal tables.
@pytest.mark.parametrize("rounding", ROUNDINGS)
@pytest.mark.parametrize("name", FAMILIES)
def test_no_legal_table_is_better_than_the_certificate_says(name: str, rounding: str) -> None:
    wrong = []
    for aim, tries, limit in instances(FAMILIES[name], rounding):
        (found,) = fit([aim], tries.times, limit)
        wrong += [
            f"{aim.name}, {limit} rows, {found.method}: {fault}"
            for fault in faults(found, tries, tries.best(tries.steps), limit)
        ]
    assert not wrong, "\n".join(wrong)


TINY = {
    "switched by the row": (lamp(LINEAR, step="25"), grids((6,)), "toward-last-row"),
    "switched by the level": (lamp(STANDBY, NONE, "25"), grids((6,)), "half-up"),
    "never dark": (lamp(NEVER, NONE, "100/3"), grids((8,)), "down"),
    "held": (lamp(SQUARE, step="25"), grids((6,), "hold"), "half-up"),
}


@pytest.mark.parametrize("name", TINY)
def test_tables_played_one_by_one_are_no_better_than_their_pieces(name: str) -> None:
    path, times, rounding = TINY[name]
    for exceed in (True, False):
        family = Family(lamps=(path,), grids=times, plans=1, may_exceed=exceed)
        for _, tries, _ in instances(family, rounding):
            rows_most = max(len(tries.needed), 1) + 1
            best = {rows: math.inf for rows in range(1, rows_most + 1)}
            for rows in tries.tables(rows_most):
                if not tries.faults(rows):
                    best[len(rows)] = min(best[len(rows)], tries.measure(rows))
            least = list(itertools.accumulate(best.values(), min))
            assert least[-1] < 1.0 or not exceed
            assert tries.best(rows_most) == pytest.approx(least, abs=LIGHT_TOLERANCE)
            at_times = min(
                tries.at_times(steps)
                for number in range(1, rows_most + 1)
                for steps in itertools.combinations(range(tries.steps), number)
            )
            assert at_times == pytest.approx(least[-1], abs=LIGHT_TOLERANCE)


@pytest.mark.parametrize("limit", [3, 4])
@pytest.mark.parametrize("rounding", ROUNDINGS)
def test_lines_of_more_than_a_thousand_samples_keep_within_every_gate(
    rounding: str, limit: int
) -> None:
    # Lit from 02:00 to 22:00, at 60 % but for an evening of 40 %, a quarter past 18:00 to a quarter
    # to 21:00. Three counts of 20 % all day long are one count too many in that evening only, and
    # it begins after a thousand minutes.
    day = (Segment(2 * HOUR, 18 * HOUR + 900, 0.6, 0.6),
           Segment(18 * HOUR + 900, 21 * HOUR - 900, 0.4, 0.4),
           Segment(21 * HOUR - 900, 22 * HOUR, 0.6, 0.6))  # fmt: skip
    (times,) = grids((1,), after=("wrap",))
    aim, tries = instance(
        Curve((CurvePart(day),)), rounded(lamp(LINEAR, step="20"), rounding), times
    )
    (found,) = fit([aim], times, limit)
    assert faults(found, tries, tries.best(limit + 1), limit) == []


def test_a_level_that_is_held_until_midnight_does_not_fall_before_it() -> None:
    # 20 % from 08:00, 90 % from 20:00 to 01:54; the grid time nearest to that is midnight. The lamp
    # goes dark by the first row of the next day, no line leads to it, and the last step is no edge:
    # a table of two rows is wrong by 40 % there or before.
    late = 26 * HOUR - 360
    day = (Segment(8 * HOUR, 20 * HOUR, 0.2, 0.2), Segment(20 * HOUR, late, 0.9, 0.9))
    (times,) = grids((4,), after=("hold",))
    aim, tries = instance(Curve((CurvePart(day),)), lamp(LINEAR), times)
    assert tries.best(2)[-1] == pytest.approx(0.4)
    (found,) = fit([aim], times, 2)
    assert faults(found, tries, tries.best(tries.steps), 2) == []


@pytest.mark.parametrize("rounding", ROUNDINGS)
@pytest.mark.parametrize("limit", [1, 2, 3])
def test_a_day_without_darkness_may_have_no_row_at_midnight(rounding: str, limit: int) -> None:
    # 20 % from 05:00 to 11:00 above a floor of 10 %. Rounded toward the last row, count 1 at 04:00
    # and count 0 at 12:00 are right all day; with a row at 00:00 it takes three.
    times = TimeGrid(step_s=4 * HOUR, between="line", after_last_row="wrap")
    bump = Curve((CurvePart((Segment(5 * HOUR, 11 * HOUR, 0.2, 0.2),)),))
    aim, tries = instance(bump, rounded(lamp(NEVER, NONE, "20", 7200), rounding), times)
    (found,) = fit([aim], times, limit)
    assert faults(found, tries, tries.best(tries.steps), limit) == []


#: Lamps that a low level makes dark, some of them with a first level far above the floor.
BY_LEVEL = (
    lamp(STANDBY, NONE),
    lamp(STANDBY, NONE, "20"),
    lamp(replace(LINEAR, floor_light=0.3), FOLLOWS),
    lamp(LOG, FOLLOWS),
    lamp(SQUARE, FOLLOWS, "25/2"),
)


def shorter_than_a_step(chance: random.Random, step_h: int) -> Curve:
    """A day lit for minutes to hours, and sometimes once more."""
    start, hours = chance.uniform(0, 24), chance.choice([0.1, 0.2, 0.5, 1, 2, 3])
    parts = [steady(start, start + hours, chance.uniform(0.02, 1))]
    if chance.random() < 0.5:
        again = start + hours + chance.uniform(step_h, 8)
        parts.append(steady(again, again + chance.uniform(0.1, 5), chance.uniform(0.05, 1)))
    return Curve(tuple(parts))


def steady(start_h: float, end_h: float, light: float) -> CurvePart:
    return CurvePart((Segment(round(start_h * HOUR), round(end_h * HOUR), light, light),))


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(n, marks=pytest.mark.slow) for n in range(2, 6))]
)
def test_a_lamp_dark_by_its_level_on_coarse_grids(seed: int) -> None:
    chance, wrong = random.Random(seed), []
    for number in range(15):
        hours = chance.choice([3, 4, 6])
        curve = shorter_than_a_step(chance, hours)
        path, times = chance.choice(BY_LEVEL), chance.choice(grids((hours,)))
        path = rounded(path, chance.choice(ROUNDINGS))
        aim, tries = instance(curve, path, times, may_exceed=chance.random() < 0.8)
        best = tries.best(tries.steps)
        limit = max(len(tries.needed), 1) + chance.randrange(3)
        if best[-1] == math.inf:
            continue  # even its first level would exceed the plan
        (found,) = fit([aim], times, limit)
        wrong += [f"{number}, {times}: {fault}" for fault in faults(found, tries, best, limit)]
    assert not wrong, "\n".join(wrong)


def test_a_level_at_which_a_lamp_is_dark_gives_no_light() -> None:
    # Lit at 47.5 % from 00:59 to 01:05; with steps of four hours that is the step from 00:00 to 04:00,
    # and the plan may be met two hours earlier or later, so no light is right from 03:05 on. A line from
    # count 1 to 0 is rounded to 0, dark, from 02:00 on; one from count 2 from 03:00 on, one from count 3
    # from 03:20 on. So counts 1 and 2 are right.
    (times,) = grids((4,), after=("hold",))
    aim, _ = instance(Curve((steady(59 / 60, 65 / 60, 0.475),)), lamp(STANDBY, NONE), times)
    (found,) = fit([aim], times, 4)
    assert (found.certificate.error, found.certificate.floor) == (0.0, 0.0)
    assert found.rows[0].count in (1, 2)
    assert found.replay.light[3 * HOUR + 300 :].max() == 0.0


@pytest.mark.parametrize("limit", [3, 4])
def test_a_line_that_would_be_dark_hours_before_its_end_needs_another_row(limit: int) -> None:
    # The relay closes at 15 %, so count 2 of tenths is the least. Lit from 02:00 to 22:00, ten steps
    # of two hours, and rounded toward the last row, a line from the top (count 10) to 0 is 10 - 9 = 1
    # at 20:00: dark for two hours too long. So a row at 20:00 is needed, beside that of 22:00, that of
    # level 0 at 00:00 and that of 02:00.
    (times,) = grids((2,), after=("wrap",))
    path = rounded(lamp(LINEAR, FOLLOWS), "toward-last-row")
    aim, tries = instance(Curve((steady(2, 22, 0.6),)), path, times)
    (found,) = fit([aim], times, limit)
    assert found.rows_needed == 4
    assert found.replay.lit[2 * HOUR : 20 * HOUR].all()
    assert faults(found, tries, tries.best(6), limit) == []
