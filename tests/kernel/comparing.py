"""Numpy and the compiled kernel side by side, on runs of all kinds.

As a program it compares them with a kernel at a path, as many times as is said: so the same is done
under sanitizers.
"""

from __future__ import annotations

import contextlib
import importlib.machinery
import importlib.util
import math
import random
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from types import ModuleType

import numpy as np

from photoperiod.drive.grid import Between, Rounding
from photoperiod.kernel import which
from photoperiod.setpoints import bound, count_sets, label_walk, work
from photoperiod.setpoints.circle import fewest_around
from photoperiod.setpoints.column_search import _search, fewest_times
from photoperiod.setpoints.columns import Column, ColumnChannel, count_needed, stretches_of
from photoperiod.setpoints.cones import Reach
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.least_squares import Pieces
from photoperiod.setpoints.segments import fewest
from photoperiod.setpoints.single import Lit, SingleProblem, _Relaxed
from photoperiod.setpoints.tolerance import Ladder, ToleranceBand, Wanted
from photoperiod.setpoints.work import WorkSpent
from tests.targets.tools import tool

SOURCES = sorted(Path(which.__file__).parent.glob("*.c"))
ROUNDINGS = ("half-up", "down", "toward-last-row")
PLENTY = 10**9

#: As setup.py has them.
EXACT = ("-O3", "-ffp-contract=off")


def build(folder: Path, flags: Sequence[str] = EXACT) -> Path:
    """Return the kernel, built in a folder; nothing in it may make the compiler complain."""
    import sysconfig

    built = folder / "_paths.abi3.so"
    include = sysconfig.get_paths()["include"]
    command = [tool("gcc"), "-std=c11", "-Wall", "-Wextra", "-Werror", "-fPIC", "-shared", *flags,
               f"-I{include}", *map(str, SOURCES), "-o", str(built)]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return built


def loaded(path: Path) -> ModuleType:
    """Return the kernel that was built at a path."""
    loader = importlib.machinery.ExtensionFileLoader("photoperiod.kernel._paths", str(path))
    spec = importlib.util.spec_from_file_location("photoperiod.kernel._paths", path, loader=loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


@contextlib.contextmanager
def using(kernel: ModuleType | None) -> Iterator[None]:
    """Let a kernel do the work, or numpy."""
    before = which.compiled
    which.compiled = lambda: kernel  # type: ignore[assignment]
    try:
        yield
    finally:
        which.compiled = before


def runs(seed: int, number: int) -> Iterable[tuple[Corridor, int]]:
    """Yield runs with the most pieces that are looked for: short and long, narrow and wide, also shut."""
    chance = random.Random(seed)
    for _ in range(number):
        length = chance.choice([1, 2, 5, 13, 30, 60, 60, 200, 500])
        top = chance.choice([3, 12, 60] if length > 100 else [3, 12, 60, 300])
        wave, slack = chance.uniform(0.3, 4) / length, chance.choice([0, 1, 2, 3])
        is_even, ease = chance.random() < 0.7, chance.choice([1, 2, 4, 8])
        low, high = [], []
        for i in range(length):
            middle = int(top * abs(math.sin(i * wave)))
            if length < 20 and chance.random() < 0.2:
                middle = chance.randint(0, top)
            low.append(max(0, middle - (ease if is_even else chance.randint(0, slack))))
            high.append(middle + (ease if is_even else chance.randint(0, slack)))
        if chance.random() < 0.05:  # a gate that lets nothing through
            high[chance.randrange(length)] = -1
        run = Corridor(
            low=np.array(low),
            high=np.array(high),
            grid=chance.choice([1, 1, 1, 2, 5]),
            first=chance.choice([0, 0, 1]),
            end=chance.choice([None, 0, 0, 2]),
            rounding=chance.choice(ROUNDINGS),
            stride=chance.choice([1, 1, 1, 2, 4]),
        )
        yield run, chance.choice([2, 4, 8, 20])


def ladder(top: int) -> Ladder:
    """Light that rises faster and faster, so that counts have different weights."""
    return Ladder((np.arange(top + 1) / top) ** 2, 0, top)


def spent(limit: int, what: Callable[[WorkSpent], object]) -> tuple[object, int]:
    """Return what comes out, or that the work was spent, and how much of it was spent."""
    work = WorkSpent(limit)
    try:
        found = what(work)
    except WorkSpent.Exhausted:
        found = "exhausted"
    return found, work.spent


def all_of(run: Corridor, most: int, limit: int, seed: int) -> list[object]:
    """Return all that can be asked of a run, as plain values; no two floats are taken for the same."""
    chance = random.Random(seed)
    starts = range(int(run.low[0]), int(run.high[0]) + 1)
    shut = bool((run.low > run.high).any())
    found: list[object] = [bound.pieces_needed(run).tolist()]
    gates = bound.RealGates(*run.real_ends())
    found += [gates.farthest(stop) for stop in range(0, gates.last + 1, 1 + gates.last // 9)]
    found.append(spent(limit, lambda work: fewest(run, starts, most, work)))
    index = np.array([chance.randrange(run.length) for _ in range(1100 // (1 + run.length // 50))])
    count = np.maximum(run.low, run.high)[index].clip(0)
    useful = run.places() & (np.array([chance.random() for _ in range(run.length + 1)]) < 0.7)
    for reach in (Reach.spans, Reach.corners):
        found.append(
            spent(limit, lambda work, reach=reach: [  # type: ignore[misc]
                part.tolist() for part in reach(Reach(run, work), index, count, useful)
            ])
        )  # fmt: skip
    if shut:
        return found
    wanted = np.array([chance.uniform(0, 1) for _ in range(run.length)])
    top = int(run.high.max()) + 5

    def closest(work: WorkSpent) -> object:
        pieces = Pieces(run, starts, min(most, 8), ladder(top), work)
        found = [pieces.graph.states.tolist(), *map(pieces.closest, (wanted, wanted / 2))]
        # Even light and a plan that stays the same: many ways cost exactly the same.
        pieces.ladder = Ladder(np.arange(513) / 512, 0, 512)
        return found + [pieces.closest(np.full(run.length, light)) for light in (0.0, 1 / 64)]

    found.append(spent(limit, closest)[0])
    return found


def days(seed: int, number: int) -> Iterable[SingleProblem]:
    """Yield short days of one or two lit runs, on ladders with flat parts and counts that are dark."""
    chance = np.random.default_rng(seed)
    for _ in range(number):
        samples, top = int(chance.choice([30, 90])), int(chance.choice([1, 9, 200]))
        light = np.sort(chance.random(top + 1))
        light[: int(chance.integers(0, 2) * top // 3)] = light[0]
        dark = int(chance.integers(0, 2))
        first = min(dark * 2, top)
        plan = np.abs(np.sin(np.arange(samples) * chance.uniform(0.02, 0.2))) * light[-1]
        spread = chance.random(samples) * chance.choice([0.0, 0.05])
        wanted = Wanted(
            least=np.where(chance.random(samples) < 0.1, 0.0, plan - spread),
            most=plan + spread,
            middle=plan,
            may_exceed=bool(chance.integers(0, 2)),
        )
        half = samples // 2
        runs = (Lit(start=0, length=half, end=0), Lit(start=half + 2, length=half - 2, end=None))
        yield SingleProblem(
            wanted=wanted,
            ladder=Ladder(light, first, top, dark),
            runs=runs[: int(chance.integers(1, 3))],
            between=Between.LINE,
            rounding=Rounding(chance.choice(ROUNDINGS)),
            grid=1,
        )


def assert_same_bands(kernel: ModuleType, seed: int, number: int) -> set[bool]:
    """Compare gates and bounds of some days; returns what the answers were."""
    told = set()
    for day in days(seed, number):
        found = []
        for each in (None, kernel):
            with using(each):
                bands = [day.ladder.band(day.wanted, error) for error in (0.0, 0.01, 0.2, 1.0)]
                fits = [
                    _Relaxed(day).fits(error, corners)
                    for error in (0.0, 0.003, 0.02, 0.2, 1.0)
                    for corners in (1, 2, 3, 8)
                ]
            found.append(([(b.low.tolist(), b.high.tolist()) for b in bands], fits))
        assert found[0] == found[1], (seed, day)
        told |= set(found[0][1])
    return told


def assert_same(kernel: ModuleType, seed: int, number: int) -> int:
    """Compare both on some runs; returns how many of their answers were more than nothing."""
    told = 0
    for n, (run, most) in enumerate(runs(seed, number)):
        limit = random.Random(seed * 1000 + n).choice([PLENTY, PLENTY, 300, 3000, 30_000])
        with using(None):
            by_numpy = all_of(run, most, limit, n)
        with using(kernel):
            compiled = all_of(run, most, limit, n)
        assert compiled == by_numpy, (seed, n, run, most, limit)
        told += any(
            isinstance(each, tuple) and each[0] not in (None, "exhausted") for each in compiled
        )
    return told


def columns(seed: int, number: int) -> Iterable[tuple[Column, int]]:
    """Yield columns with the most rows that are looked for.

    One to three channels, each lit in one stretch, in two, or all day; narrow gates and wide ones.
    """
    chance = random.Random(seed)
    for _ in range(number):
        steps, grid = chance.choice([6, 20, 50, 150]), chance.choice([1, 1, 2])
        top, wraps = chance.choice([4, 20, 150]), chance.random() < 0.7
        channels, forced = [], set() if wraps else {0}
        for _ in range(chance.randint(1, 3)):
            lit = np.ones(steps, dtype=bool)
            for _ in range(chance.choice([0, 1, 1, 2])):
                begin, length = chance.randrange(steps), chance.randint(1, steps // 2)
                lit[np.arange(begin, begin + length) % steps] = False
            if lit.any() and not lit.all():
                forced |= set(np.flatnonzero(lit != np.roll(lit, 1)).tolist())
            turn, ease = chance.uniform(0.5, 2), chance.choice([1, 2, 6, top // 2])
            size = steps * grid
            middle = np.abs(np.sin(np.arange(size) * turn * math.pi / size)) * top
            middle = np.minimum(middle, chance.choice([top, top // 2, top // 4]))  # may be held
            spread = [chance.randint(0, 1) for _ in range(size)]
            low = np.maximum(middle.astype(np.int64) - ease, 0)
            channels.append(ColumnChannel(
                band=ToleranceBand(low, middle.astype(np.int64) + ease + np.array(spread)),
                lit=lit, first=chance.randint(0, 1), stride=chance.choice([1, 1, 1, 3]),
            ))  # fmt: skip
        places = None
        if chance.random() < 0.2:
            places = np.array([chance.random() < 0.5 for _ in range(steps)])
        yield (
            Column(
                channels=channels,
                forced=tuple(sorted(forced or {0})),
                grid=grid,
                rounding=Rounding(chance.choice(ROUNDINGS)),
                between=Between.LINE,
                wraps=wraps,
                places=places,
            ),
            len(forced) + chance.choice([2, 4, 8]),
        )


@contextlib.contextmanager
def holding(most: int) -> Iterator[None]:
    """Let a search hold so many numbers at once."""
    places = (work, label_walk, count_sets)
    before = work.MOST_HELD
    for module in places:
        module.MOST_HELD = most  # type: ignore[attr-defined]
    try:
        yield
    finally:
        for module in places:
            module.MOST_HELD = before  # type: ignore[attr-defined]


def all_at_once(column: Column, most: int, work: WorkSpent) -> object:
    """Return what is found with so many rows without trying fewer first: then many labels can end."""
    stretches = list(stretches_of(column))
    if count_needed(stretches, column) is None:
        return None
    return _search(column, stretches, most, work)


def assert_same_columns(kernel: ModuleType, seed: int, number: int) -> set[str]:
    """Compare shared columns, also where work or room is spent; returns how the searches ended."""
    told = set()
    chance = random.Random(seed)
    for n, (column, most) in enumerate(columns(seed, number)):
        limit = chance.choice([PLENTY, PLENTY, 3000, 100_000])
        most_held = chance.choice([work.MOST_HELD, work.MOST_HELD, 20_000, 500])
        found = []
        for each in (None, kernel):
            with using(each), holding(most_held):
                found.append([
                    spent(limit, lambda work, ask=ask: ask(column, most, work))  # noqa: B023
                    for ask in (fewest_times, all_at_once)
                ])  # fmt: skip
        assert found[0] == found[1], (seed, n, column, most, limit, most_held)
        answer = found[0][0][0]
        told.add("exhausted" if answer == "exhausted" else str(answer is not None))
    return told


def rolling_day(chance: random.Random, steps: int, grid: int = 1) -> Column:
    """Return a channel that is never dark: its light swings, and its gates have some counts."""
    samples, top = steps * grid, chance.choice([9, 9, 60])
    phase, swings = chance.uniform(0, 6), chance.choice([1, 1, 2])
    middle = top * (0.55 + 0.45 * np.sin(phase + np.arange(samples) * swings * 2 * np.pi / samples))
    wide = top * chance.uniform(0.05, 0.3)
    low = np.maximum(np.ceil(middle - wide), 0).astype(np.int64)
    high = np.maximum(np.floor(middle + wide).astype(np.int64), low)
    channel = ColumnChannel(
        band=ToleranceBand(low, high), lit=np.ones(steps, dtype=bool),
        first=chance.randint(0, 1), stride=chance.choice([1, 1, 2]),
    )  # fmt: skip
    places = None
    if chance.random() < 0.2:
        places = np.array([chance.random() < 0.7 for _ in range(steps)])
    return Column(
        channels=[channel],
        forced=(chance.randrange(steps),),
        grid=grid,
        rounding=Rounding(chance.choice(ROUNDINGS)),
        between=Between.LINE,
        wraps=True,
        places=places,
    )


def assert_same_circles(kernel: ModuleType, seed: int, number: int) -> set[str]:
    """Compare days without darkness, also where work or room is spent; returns how the searches ended."""
    told = set()
    chance = random.Random(seed)
    for n in range(number):
        column = rolling_day(chance, chance.choice([12, 40, 150]), chance.choice([1, 1, 3]))
        window, most = chance.choice([1, 4, 30]), chance.choice([3, 5, 8])
        limit = chance.choice([PLENTY, PLENTY, 3000, 100_000])
        most_held = chance.choice([work.MOST_HELD, work.MOST_HELD, 2000, 60])
        found = []
        for each in (None, kernel):
            with using(each), holding(most_held):
                found.append(
                    spent(limit, lambda work: fewest_around(column, window, most, work))  # noqa: B023
                )
        assert found[0] == found[1], (seed, n, column, window, most, limit, most_held)
        told.add("exhausted" if found[0][0] == "exhausted" else str(found[0][0] is not None))
    return told


if __name__ == "__main__":
    assert_same(loaded(Path(sys.argv[1])), int(sys.argv[2]), int(sys.argv[3]))
    assert_same_bands(loaded(Path(sys.argv[1])), int(sys.argv[2]), int(sys.argv[3]))
    assert_same_columns(loaded(Path(sys.argv[1])), int(sys.argv[2]), int(sys.argv[3]))
    assert_same_circles(loaded(Path(sys.argv[1])), int(sys.argv[2]), int(sys.argv[3]))
