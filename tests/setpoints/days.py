"""Days, lamps and grids for tests of the fit, and slow checks of what every table must keep."""

from __future__ import annotations

import functools
from collections import deque
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from photoperiod.curves.curve import Curve, Profile, Segment, day_seconds, ramp_profile
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.setpoints.fit import Fit, Target, fit

DAY = 86_400
HOUR = 3600

#: Light computed in two ways in double precision [fraction of full].
LIGHT_TOLERANCE = 1e-12

SQUARE = BallastCurve(
    kind="square-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
)
LINEAR = BallastCurve(
    kind="linear", floor_volts=1.0, full_volts=10.0, floor_light=0.1, dark="relay"
)
STANDBY = replace(LINEAR, dark="standby", standby_volts=0.5)
NEVER = replace(LINEAR, dark="never")
#: A 10-bit converter of 10 mV a code: whole percents of level are whole codes.
TEN_MILLIVOLTS = Converter.nominal(10, 10.24, 10.0)
#: A port that ends at 2 V, below most of the light that plans ask for.
LOW_PORT = Converter.nominal(10, 3.3, 2.0)
COLUMN = RelayMode(kind="column")
FOLLOWS = RelayMode(kind="follows-level", on_level_percent=5.0)
NONE = RelayMode(kind="none")


def path(
    ballast: BallastCurve = SQUARE,
    relay: RelayMode = COLUMN,
    unit: str = "percent",
    step: str = "1",
    rounding: str = "half-up",
    converter: Converter = TEN_MILLIVOLTS,
) -> LightPath:
    return LightPath(
        levels=LevelGrid(unit=unit, step=Fraction(step), every_seconds=1, rounding=rounding),
        converter=converter,
        ballast=ballast,
        relay=relay,
    )


def target(curve: Curve, p: LightPath, may_exceed: bool = True) -> Target:
    return Target(
        name="lamp",
        reachable=p.ballast.reachable(curve.light(day_seconds()), p.most_light),
        corners=tuple(sorted(curve.corners())),
        path=p,
        may_exceed=may_exceed,
    )


def grid(step_s: int = 60, between: str = "line", after: str = "wrap") -> TimeGrid:
    return TimeGrid(step_s=step_s, between=between, after_last_row=after)


def ramps(start: int, dawn: int, light: float, dusk: int, end: int, shape: str = "linear") -> Curve:
    return Curve((ramp_profile(start, [(start, dawn, light, shape)], end, dusk, shape),))


def steady(start: int, end: int, light: float) -> Curve:
    return Curve((Profile((Segment(start, end, light, light),)),))


DARK = Curve(())
EVER = steady(0, DAY, 0.5)
NOON = ramps(9 * HOUR, HOUR, 0.8, HOUR, 21 * HOUR)
NIGHT = ramps(20 * HOUR, HOUR, 0.8, HOUR, 32 * HOUR, "sine")


def one(curve: Curve, p: LightPath, times: TimeGrid, limit: int) -> Fit:
    (found,) = fit([target(curve, p)], times, limit)
    return found


# Slow checks --------------------------------------------------------------------------------------


def window(values: np.ndarray, reach: int, sign: int) -> np.ndarray:
    """The largest (sign 1) or smallest (sign -1) value within some seconds, on a repeating day."""
    return _window(values.tobytes(), reach, sign).copy()


@functools.lru_cache(maxsize=8)
def _window(raw: bytes, reach: int, sign: int) -> np.ndarray:
    """By a queue of candidates, which has nothing in common with the doubling of the fit."""
    values = np.frombuffer(raw).tolist()
    n = len(values)
    found = [0.0] * n
    queue: deque[tuple[int, float]] = deque()
    for position in range(-reach, n + reach):
        value = values[position % n]
        while queue and sign * queue[-1][1] <= sign * value:
            queue.pop()
        queue.append((position, value))
        middle = position - reach
        if middle >= 0:
            while queue[0][0] < middle - reach:
                queue.popleft()
            found[middle] = queue[0][1]
    return np.array(found)


def is_lit_row(row: Row, p: LightPath) -> bool:
    return bool(row.relay) if p.dark_by_row else row.count > 0 or not p.can_be_dark


def tolerated(rows: Sequence[Row], aim: Target, times: TimeGrid) -> tuple[np.ndarray, np.ndarray]:
    """The least and most light that is no error, by the words of the fit.

    Half a time step in time on either side; with lines also the step in which the level falls to a
    dark row, and, where the level makes the light, the step in which it rises from one.
    """
    least = window(aim.reachable, times.step_s // 2, -1)
    most = window(aim.reachable, times.step_s // 2, 1)
    if times.between == "hold":
        return least, most
    for index, row in enumerate(rows):
        if index == 0 and not times.wraps:
            continue  # nothing leads to the first row
        before, now = is_lit_row(rows[index - 1], aim.path), is_lit_row(row, aim.path)
        edge = np.arange(row.second - times.step_s + 1, row.second) % DAY
        if before and not now:
            least[edge] = 0.0
        if now and not before and aim.path.lights_by_level:
            most[edge] = np.maximum(most[edge], most[row.second])
    return least, most


def errors_of(light: np.ndarray, least: np.ndarray, most: np.ndarray) -> np.ndarray:
    return np.where(light < least, least - light, np.where(light > most, light - most, 0.0))


def assert_errors_are_measured_right(found: Fit, aim: Target, times: TimeGrid) -> None:
    light = found.replay.light
    errors = errors_of(light, *tolerated(found.rows, aim, times))
    assert found.worst_light_error == pytest.approx(float(errors.max()), abs=LIGHT_TOLERANCE)
    assert errors[found.worst_second] == pytest.approx(errors.max(), abs=LIGHT_TOLERANCE)
    strict = np.abs(light - aim.reachable).max()
    assert found.strict_light_error == pytest.approx(float(strict), abs=LIGHT_TOLERANCE)


def far_from(mask: np.ndarray, seconds: int) -> np.ndarray:
    """Where a mask is False for at least some seconds on either side, on a repeating day."""
    seconds = min(seconds, DAY)
    before = np.concatenate(([0], np.cumsum(np.tile(mask, 4))))
    middle = np.arange(DAY, 2 * DAY)
    return before[middle + seconds + 1] - before[middle - seconds] == 0


def assert_dark_where_the_plan_is_dark(found: Fit, aim: Target, times: TimeGrid) -> None:
    lit = aim.reachable > 0
    slack = times.step_s // 2
    if has_short_run(lit, times.step_s):
        slack += times.step_s  # a run that would vanish keeps one step
    if aim.path.lights_by_level and times.between == "line":
        slack += times.step_s  # the level needs a step to rise from nothing
    assert not found.replay.lit[far_from(lit, slack)].any()


def assert_lit_where_the_plan_is_lit(found: Fit, aim: Target, times: TimeGrid) -> None:
    if aim.path.can_be_dark and not (aim.path.dark_by_row or times.between == "hold"):
        return  # a line that falls toward a dark row gets dark on its way
    dark = aim.reachable == 0
    assert found.replay.lit[far_from(dark, times.step_s // 2)].all()


def has_short_run(lit: np.ndarray, step_s: int) -> bool:
    if lit.all() or not lit.any():
        return False
    rolled = np.roll(lit, -int(np.argmin(lit)))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], rolled.astype(int), [0]))))
    return bool((edges[1::2] - edges[::2]).min() < step_s)


def assert_rows_are_well_formed(found: Fit, aim: Target, times: TimeGrid, limit: int) -> None:
    p = aim.path
    seconds = [row.second for row in found.rows]
    assert found.rows
    assert seconds == sorted(set(seconds))
    assert all(second % times.step_s == 0 and 0 <= second < DAY for second in seconds)
    assert len(found.rows) <= max(limit, found.rows_needed)
    assert found.rows_needed >= 1
    for row in found.rows:
        assert 0 <= row.count <= p.top_count
        assert (row.relay is not None) is (p.relay.kind == "column")
        if row.relay is False:
            assert p.dark_by_row
            assert row.count == 0, "a welded relay must give the floor"
        if p.dark_by_level and row.count > 0:
            assert not p.is_standby[row.count]
            assert not p.is_undefined[row.count]
    if not times.wraps:
        assert seconds[0] == 0, "what applies from midnight on must be said"
    if not p.can_be_dark:
        assert found.replay.lit.all()


def bounded(p: LightPath, times: TimeGrid) -> TimeGrid:
    """A day without darkness that wraps has no row to begin the search at; it has tests below."""
    if p.can_be_dark or times.step_s >= 3600:
        return times
    return replace(times, after_last_row="hold")


def error_of(rows: Sequence[Row], aim: Target, times: TimeGrid) -> float:
    """The worst error of a table written by hand."""
    light = play(rows, times, aim.path.levels, aim.path).light
    return float(errors_of(light, *tolerated(rows, aim, times)).max())


#: A table may be this much worse than the best: 5 % (DESIGN: "at most 1.05 of it") and rounding.
NEARLY_BEST, SLACK = 1.05, 2e-6
