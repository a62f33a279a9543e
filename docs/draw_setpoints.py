"""Draw the pictures of setpoints.md from real fits.

Run: python docs/draw_setpoints.py

Every line, gate, row and square is computed here with the package itself; only where words stand is
chosen by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
from drawing import (
    BLUE,
    HOUR,
    INK,
    MINUTE,
    ORANGE,
    PALE,
    Panel,
    Point,
    between,
    circle,
    clock,
    cut,
    diamond,
    label,
    line,
    picture,
    square,
    text,
)
from numpy.typing import NDArray

from photoperiod.curves.curve import Curve, day_seconds, ramp_profile
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.setpoints.cones import Reach
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.fit import Fit, fit
from photoperiod.setpoints.problem import ChannelProblem, Target, simplify
from photoperiod.setpoints.tolerance import Ladder, ToleranceBand, Wanted
from photoperiod.setpoints.work import WorkSpent
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HALF = HOUR // 2  # half an hour

#: Samples of the fits below are so far apart [s].
SAMPLE_S = 60

#: No search here looks at so many gates.
WORK = 10_000_000


# What is drawn


def channel(name: str, curve: Curve, step: str) -> Target:
    """Return a channel on a square-law ballast whose levels are in steps of some percent."""
    path = LightPath(
        levels=LevelGrid(unit="percent", step=Fraction(step), every_seconds=1, rounding="half-up"),
        converter=Converter.nominal(12, 10.0, 10.0),
        ballast=BallastCurve(
            kind="square-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
        ),
        relay=RelayMode(kind="column"),
    )
    reachable = path.ballast.reachable(curve.light(day_seconds()), path.most_light)
    corners = tuple(sorted(curve.corners()))
    return Target(name=name, reachable=reachable, corners=corners, path=path)


def times_of(minutes: int) -> TimeGrid:
    """Return a grid of times on which lines are drawn from row to row."""
    return TimeGrid(step_s=minutes * MINUTE, between="line", after_last_row="wrap")


def gates(problem: ChannelProblem, error: float) -> ToleranceBand:
    """Return the counts whose light is within an error of the plan, at every sample of the day."""
    wanted = Wanted(
        least=problem.least[::SAMPLE_S],
        most=problem.most[::SAMPLE_S],
        middle=problem.target.reachable[::SAMPLE_S],
    )
    return Ladder.of(problem.path, problem.ceiling).band(wanted, error)


@dataclass(frozen=True)
class Morning:
    """One channel, its table, and the gates at the error of that table."""

    problem: ChannelProblem
    found: Fit
    band: ToleranceBand


def morning() -> Morning:
    """Return what the first picture shows: eight rows, every ten minutes, levels of 2 %."""
    curve = Curve((
        ramp_profile(17 * HALF, [(17 * HALF, 2 * HOUR, 0.4, "smooth"),
                               (11 * HOUR, 2 * HOUR, 0.85, "sine"),
                               (16 * HOUR, 3 * HALF, 0.4, "smooth")],
                   21 * HOUR, 3 * HALF, "sine"),
    ))  # fmt: skip
    target, times = channel("channel", curve, "2"), times_of(10)
    (found,) = fit([target], times, 8)
    problem = ChannelProblem(target, times)
    return Morning(problem, found, gates(problem, found.certificate.error))


@dataclass(frozen=True)
class Way:
    """A table, the light it gives and its errors at the samples, as a fraction of full."""

    rows: tuple[Row, ...]
    light: Floats
    errors: Floats

    @classmethod
    def of(cls, problem: ChannelProblem, rows: tuple[Row, ...]) -> Way:
        """Return what some rows do."""
        replay = play(rows, problem.times, problem.path.levels, problem.path)
        return cls(rows, replay.light[::SAMPLE_S], problem.errors(replay)[::SAMPLE_S])


#: Rows of both tables of the second picture.
TEN = 10


def two_ways() -> tuple[ChannelProblem, Way, Way]:
    """Return a channel with ten rows: by line simplification and by the exact fit."""
    curve = Curve((
        ramp_profile(9 * HOUR, [(9 * HOUR, 2 * HOUR, 0.45, "smooth"),
                              (12 * HOUR, 3 * HALF, 0.9, "sine"),
                              (14 * HOUR, 3 * HALF, 0.45, "smooth")],
                   21 * HOUR, 2 * HOUR, "smooth"),
    ))  # fmt: skip
    target, times = channel("channel", curve, "1/2"), times_of(1)
    problem = ChannelProblem(target, times)
    (found,) = fit([target], times, TEN)
    return (
        problem,
        Way.of(problem, problem.rows(simplify([problem], TEN))),
        Way.of(problem, found.rows),
    )


@dataclass(frozen=True)
class Stack:
    """The gate of a channel at the time of a row, and the counts in it that rows so far lead to."""

    low: int
    high: int
    reached: frozenset[int]


@dataclass(frozen=True)
class Sharer:
    """One of two channels with the same times: its table, gates, and label's sets by second."""

    problem: ChannelProblem
    found: Fit
    band: ToleranceBand
    stacks: dict[int, Stack]


def sharers() -> tuple[Sharer, Sharer]:
    """Return a day and a moonlight that takes over at dusk, with one column of twelve times."""
    day = Curve((
        ramp_profile(11 * HOUR, [(11 * HOUR, 2 * HOUR, 0.8, "sine"),
                               (15 * HOUR, 3 * HALF, 0.65, "smooth")],
                   43 * HALF, 4 * HOUR, "smooth"),
    ))  # fmt: skip
    moon = Curve((
        ramp_profile(37 * HALF, [(37 * HALF, 2 * HOUR, 0.08, "smooth")],
                   24 * HOUR, 2 * HOUR, "smooth"),
    ))  # fmt: skip
    targets, times = [channel("day", day, "1"), channel("moon", moon, "1")], times_of(10)
    first, second = (
        _sharer(ChannelProblem(target, times), found)
        for target, found in zip(targets, fit(targets, times, 12), strict=True)
    )
    return first, second


def _sharer(problem: ChannelProblem, found: Fit) -> Sharer:
    joint = found.certificate.joint_error or 0.0
    most = max(joint * float(problem.target.reachable.max()), found.certificate.floor)
    band = gates(problem, most + 1e-9)
    return Sharer(problem, found, band, label_sets(found.rows, band))


def label_sets(rows: Sequence[Row], band: ToleranceBand) -> dict[int, Stack]:
    """Return for each row of a lit channel which counts a label at its time carries.

    The channel is dark for some time. All counts in the gate may stand where it lights; from there
    the search's own reach leads from each set to the next.
    """
    first = next(k for k, row in enumerate(rows) if row.relay and not rows[k - 1].relay)
    at = rows[first].second // SAMPLE_S
    counts: Ints = np.arange(band.low[at], band.high[at] + 1)
    stacks = {}
    for row, following in zip(rows[first:], [*rows[first + 1 :], *rows[: first + 1]], strict=False):
        if not row.relay:
            break
        begin = row.second // SAMPLE_S
        reached = frozenset(counts.tolist())
        stacks[row.second] = Stack(int(band.low[begin]), int(band.high[begin]), reached)
        length = (following.second - row.second) % SECONDS_PER_DAY // SAMPLE_S
        goes_on = bool(following.relay)
        samples = np.arange(begin, begin + length + goes_on) % band.low.size
        run = Corridor(
            low=band.low[samples],
            high=band.high[samples],
            grid=1,
            first=0,
            end=None if goes_on else following.count,
            rounding="half-up",
        )
        useful = np.arange(samples.size + 1) == length
        beginnings = np.zeros(counts.size, dtype=np.int64)
        _, _, ends = Reach(run, WorkSpent(WORK)).corners(beginnings, counts, useful)
        counts = np.unique(ends)
    return stacks


def level_of(problem: ChannelProblem, light: Floats) -> Floats:
    """Return the level that would give some light if levels had no steps. [% of 10 V]"""
    first = problem.path.floor_count
    ladder = problem.path.burning_light[first:]
    return np.interp(light, ladder, problem.path.level_percents[first:])


# The pictures

#: Every so many minutes a gate is drawn.
GATE_MINUTES = 10


def draw_gates() -> str:
    """Return the picture of gates, rows and lines."""
    shown = morning()
    problem, rows, band = shown.problem, shown.found.rows, shown.band
    percent = problem.path.level_percents
    panel = Panel(58, 40, 646, 290, 8.5 * HOUR, 13 * HOUR, 100)
    parts = panel.axes(range(9, 13), range(0, 101, 20), "level, % of 10 V")
    lights = next(row.second for row in rows if row.relay)
    for second in range(lights, int(panel.end_s) + 1, GATE_MINUTES * MINUTE):
        x = panel.x(second)
        low, high = (panel.y(percent[e[second // SAMPLE_S]]) for e in (band.low, band.high))
        parts.append(line([(x, low), (x, high)], PALE, 1.6))
        parts += [line([(x - 4, y), (x + 4, y)], PALE, 1.6) for y in (low, high)]
    corners = panel.points(
        (row.second for row in rows if row.relay),
        (percent[row.count] for row in rows if row.relay),
    )
    parts.append(line(cut(corners, panel.left, panel.right), BLUE, 3))
    seconds = np.arange(lights, int(panel.end_s) + 1, 3 * MINUTE)
    plan = panel.points(seconds, level_of(problem, problem.target.reachable[seconds]))
    parts.append(line(plan, INK, 1.2))
    parts += [circle(at, BLUE, 5.5) for at in corners if at[0] <= panel.right]

    parts.append(text(corners[1][0] - 12, corners[1][1] - 12, "row", "end", BLUE, bold=True))
    second = int(9.5 * HOUR)
    gate = (panel.x(second) + 3, panel.y(percent[band.low[second // SAMPLE_S]]) + 4)
    parts += label((gate[0] + 67, gate[1] + 58), gate,
                   "gate: levels whose light is within the error")  # fmt: skip
    parts += label((panel.x(11.1 * HOUR), panel.y(52)), between(corners[2], corners[3], 0.35),
                   "what the controller draws", BLUE, bold=True)  # fmt: skip
    parts += label((panel.x(11.3 * HOUR), panel.y(91)), plan[int(np.searchsorted(seconds, 42_000))],
                   "reachable plan", anchor="end")  # fmt: skip
    words = f"error: {shown.found.certificate.error * 100:.1f} % of full; a gate every 10 minutes"
    parts.append(text(panel.right, panel.y(4), words, "end"))
    return picture("Gates of a morning, rows inside them and the line between the rows", 362, parts)


def draw_fit() -> str:
    """Return the picture of line simplification beside the exact fit."""
    problem, rough, exact = two_ways()
    panel = Panel(58, 40, 646, 230, 8.5 * HOUR, 21.5 * HOUR, 100)
    below = Panel(58, 332, 646, 110, panel.begin_s, panel.end_s, 13)
    hours = range(9, 22)
    parts = panel.axes(hours, range(0, 101, 20), "light, % of full")
    parts += below.axes(hours, range(0, 11, 5), "error, % of full")
    seconds = np.arange(int(panel.begin_s), int(panel.end_s) + 1, SAMPLE_S)
    for way, colour, dash, name in (
        (rough, ORANGE, "6 3", "line simplification"),
        (exact, BLUE, "", "exact fit"),
    ):
        light, errors = (v[seconds // SAMPLE_S] * 100 for v in (way.light, way.errors))
        parts.append(line(panel.points(seconds, light), colour, 1.8, dash))
        parts.append(line(below.points(seconds, errors), colour, 1.5, dash))
        worst = float(way.errors.max()) * 100
        peak = (below.x(int(way.errors.argmax()) * SAMPLE_S), below.y(worst))
        end = (below.x(18.95 * HOUR), peak[1])
        parts.append(line([peak, end], colour, 0.8, "1.5 3"))
        parts.append(text(end[0], end[1] - 5, f"{name}: at worst {worst:.1f} %", "end", colour,
                          bold=True))  # fmt: skip
    plan = seconds[::3]
    plan_at = panel.points(plan, problem.target.reachable[plan] * 100)
    parts.append(line(plan_at, INK, 1.0))
    for way in (rough, exact):
        for row in way.rows:
            at = (panel.x(row.second), panel.y(way.light[row.second // SAMPLE_S] * 100))
            parts.append(square(at, 9, ORANGE) if way is rough else circle(at, BLUE, 4))

    second = int(12.5 * HOUR)
    dashed = (panel.x(second) + 3, panel.y(rough.light[second // SAMPLE_S] * 100) + 2)
    parts += label((dashed[0] + 36, dashed[1] + 57), dashed, f"line simplification, {TEN} rows",
                   ORANGE, bold=True)  # fmt: skip
    second = int(12.9 * HOUR)
    solid = (panel.x(second) - 2, panel.y(exact.light[second // SAMPLE_S] * 100) - 2)
    parts += label((solid[0] - 34, solid[1] - 16), solid, f"exact fit, {TEN} rows", BLUE, bold=True,
                   anchor="end")  # fmt: skip
    second = 10 * HOUR
    fine = plan_at[int(np.searchsorted(plan, second))]
    parts += label((fine[0] - 20, fine[1] - 58), fine, "reachable plan", anchor="middle")
    return picture("Line simplification and the exact fit of a day, ten rows each", 476, parts)


#: Times of rows whose sets are drawn.
STACK_TIMES = (18 * HOUR + 50 * MINUTE, 20 * HOUR + 10 * MINUTE, 23 * HOUR + 20 * MINUTE)


def draw_shared() -> str:
    """Return the picture of two channels with one column of times."""
    day, moon = sharers()
    percent = day.problem.path.level_percents
    panel = Panel(58, 40, 646, 200, 15.5 * HOUR, 24.25 * HOUR, 100)
    parts = panel.axes(range(16, 25), range(0, 101, 20), "level, % of 10 V")
    for row in day.found.rows:
        x = panel.x(row.second)
        if panel.left <= x <= panel.right:
            parts.append(line([(x, panel.top - 6), (x, panel.bottom)], PALE, 0.8))
    parts.append(
        text(panel.right, panel.top - 14, "upright lines: the times that both share", "end")
    )
    marks: list[str] = []
    for sharer, colour, dash, mark in ((day, BLUE, "", circle), (moon, ORANGE, "6 3", diamond)):
        table = sharer.found.rows
        dark = next(row for before, row in pairwise(table) if before.relay and not row.relay)
        lit = [row for row in table if row.relay or row == dark]
        corners = panel.points((row.second for row in lit), (percent[row.count] for row in lit))
        parts.append(line(cut(corners, panel.left, panel.right), colour, 2.4, dash))
        reachable = sharer.problem.target.reachable
        plan = np.arange(0, SECONDS_PER_DAY, 3 * MINUTE)
        plan = plan[(reachable[plan] > 0) & (plan >= panel.begin_s)]
        parts.append(line(panel.points(plan, level_of(sharer.problem, reachable[plan])), INK, 0.8))
        for row in table:
            at = (panel.x(row.second), panel.y(percent[row.count]))
            if panel.left <= at[0] <= panel.right:
                marks.append(mark(at, colour, is_filled=bool(row.relay)))
    parts += marks
    parts.append(text(panel.x(16.75 * HOUR), panel.y(86), "day", "middle", BLUE, bold=True))
    parts.append(text(panel.x(21.83 * HOUR), panel.y(33), "moon", "middle", ORANGE, bold=True))
    parts.append(text(panel.x(16.92 * HOUR), panel.y(5), "level 0, relay off", "middle", ORANGE))
    second = 19 * HOUR + 30 * MINUTE
    at = (
        panel.x(second),
        panel.y(float(level_of(moon.problem, moon.problem.target.reachable)[second])),
    )
    parts += label((at[0], at[1] - 22), at, "reachable plan", anchor="middle")

    top = panel.bottom + 46
    for second in STACK_TIMES:
        if second not in {**day.stacks, **moon.stacks}:
            raise ValueError(f"no lit row stands at {clock(second)}: choose other times")
        x = panel.x(second)
        parts.append(line([(x, panel.bottom + 22), (x, top - 14)], PALE, 0.8))
        parts.append(text(x, top, f"at {clock(second)}", "middle", bold=True))
        for sharer, colour, name in ((day, BLUE, "day"), (moon, ORANGE, "moon")):
            if second in sharer.stacks:
                both = second in day.stacks and second in moon.stacks
                side = (-20 if sharer is day else 20) if both else 0
                parts += _stack(sharer.stacks[second], (x + side, top + 18), name, colour)
    for k, words in enumerate((
        "What a label carries:",
        "levels that rows can reach",
        "other levels in the gate",
    )):  # fmt: skip
        y = top + 18 * k
        parts.append(text(panel.left + (16 if k else 0), y, words, bold=not k))
        if k:
            parts.append(square((panel.left + 5, y - 4), 8, INK, INK if k == 1 else "#ffffff"))
    joint = (day.found.certificate.joint_error or 0.0) * 100
    parts.append(text(panel.left, top + 18 * 4, f"joint error: {joint:.1f} % of either peak"))
    return picture(
        "Two channels with one column of times, and the sets a label carries", 456, parts
    )


def _stack(stack: Stack, at: Point, name: str, colour: str) -> list[str]:
    """Return the levels of a gate, the greatest on top, those of a label's set filled."""
    x, y = at
    parts = [text(x, y, name, "middle", colour, bold=True),
             text(x, y + 15, f"{stack.high} %", "middle")]  # fmt: skip
    y += 25
    for count in range(stack.high, stack.low - 1, -1):
        parts.append(square((x, y), 7, colour, colour if count in stack.reached else "#ffffff"))
        y += 9
    return [*parts, text(x, y + 10, f"{stack.low} %", "middle")]


PICTURES: dict[str, Callable[[], str]] = {
    "setpoints-gates.svg": draw_gates,
    "setpoints-fit.svg": draw_fit,
    "setpoints-shared.svg": draw_shared,
}


def main() -> None:
    """Write all pictures beside this file."""
    for name, draw in PICTURES.items():
        (Path(__file__).parent / name).write_bytes(draw().encode())


if __name__ == "__main__":
    main()
