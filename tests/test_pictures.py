"""The pictures of the pages are there, are drawn from real fits, and are true."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import numpy as np
import pytest

from photoperiod.drive.grid import LevelGrid
from photoperiod.drive.replay import play
from tests.conftest import ROOT

DOCS = ROOT / "docs"
SVG = "{http://www.w3.org/2000/svg}"
EMBEDDED = sorted(
    {
        page.parent / target
        for page in (*DOCS.glob("*.md"), ROOT / "DEVELOPERS.md")
        for target in re.findall(r"!\[[^\]]*\]\(([^)\s]+)\)", page.read_text(encoding="utf-8"))
    }
)
NAMES = ("setpoints-fit.svg", "setpoints-gates.svg", "setpoints-shared.svg")
WALK_NAMES = ("walk-blocks.svg", "walk-breadboard.svg", "walk-volts.svg")

#: Words smaller than this can't be read [px].
LEAST_FONT = 11


@contextmanager
def loaded(name: str) -> Iterator[ModuleType]:
    """Give a script of docs/ as a module; those beside it can be imported meanwhile."""
    spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look for it there
    sys.path.insert(0, str(DOCS))
    try:
        spec.loader.exec_module(module)
        yield module
    finally:
        sys.path.remove(str(DOCS))
        sys.modules.pop(spec.name, None)


@pytest.fixture(scope="module")
def script() -> Iterator[ModuleType]:
    with loaded("draw_setpoints") as module:
        yield module


@pytest.fixture(scope="module")
def walk(script: ModuleType) -> Iterator[ModuleType]:
    with loaded("draw_walk") as module:
        yield module


def test_the_pages_embed_every_picture_that_is_drawn(script: ModuleType, walk: ModuleType) -> None:
    assert sorted(script.PICTURES) == sorted(NAMES)
    assert sorted(walk.PICTURES) == sorted(WALK_NAMES)
    assert {DOCS / name for name in NAMES + WALK_NAMES} <= set(EMBEDDED)


@pytest.mark.parametrize("path", EMBEDDED, ids=lambda path: path.name)
def test_pictures_are_well_formed_and_titled(path: Path) -> None:
    picture = ElementTree.parse(path).getroot()
    assert picture.tag == f"{SVG}svg"
    title = picture[0]
    assert title.tag == f"{SVG}title"
    assert title.text
    assert picture.get("aria-label") == title.text
    assert picture.get("role") == "img"
    sizes = [element.get("font-size") for element in picture.iter()]
    assert all(float(size) >= LEAST_FONT for size in sizes if size is not None)


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_what_the_script_draws(script: ModuleType, name: str) -> None:
    drawn = script.PICTURES[name]().encode()
    assert drawn == (DOCS / name).read_bytes(), "run: python docs/draw_setpoints.py"


@pytest.mark.parametrize("name", WALK_NAMES)
def test_pictures_of_the_walk_are_what_the_script_draws(walk: ModuleType, name: str) -> None:
    drawn = walk.PICTURES[name]().encode()
    assert drawn == (DOCS / name).read_bytes(), "run: python docs/draw_walk.py"


def test_the_picture_of_the_page_is_cut_from_the_page() -> None:
    with loaded("draw_page") as script:
        assert script.draw() == (DOCS / "page.svg").read_bytes(), "run: python docs/draw_page.py"
    assert "](docs/page.svg)" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_volts_in_the_picture_are_those_that_the_page_prints(walk: ModuleType) -> None:
    page = walk.PAGE.read_text(encoding="utf-8")
    picture, held = walk.draw_volts(), walk.table()
    for second in walk.MOMENTS:
        given = walk.given_at(held, second)
        assert f"--at {walk.clock(second)}\n" in page
        assert re.search(
            rf"\b{given.volts:.3f} +{given.code} +{'on' if given.relay else 'off'}\n", page
        )
        assert (f"{given.volts:.3f} V" in picture) == given.relay


def test_levels_of_the_morning_are_within_its_gates(script: ModuleType) -> None:
    shown = script.morning()
    problem = shown.problem
    replay = play(shown.found.rows, problem.times, problem.path.levels, problem.path)
    counts, lit = replay.counts[:: script.SAMPLE_S], replay.lit[:: script.SAMPLE_S]
    inside = (counts >= shown.band.low) & (counts <= shown.band.high)
    assert lit.any()
    assert inside[lit].all()


def test_sets_are_those_that_a_plain_player_finds(script: ModuleType) -> None:
    for sharer in script.sharers():
        levels: LevelGrid = sharer.problem.path.levels
        assert levels.rounding == "half-up"
        low, high = sharer.band.low, sharer.band.high
        seconds = list(sharer.stacks)
        first = sharer.stacks[seconds[0]]
        assert first.reached == frozenset(range(first.low, first.high + 1))
        for begin_s, end_s in pairwise(seconds):
            begin, end = begin_s // script.SAMPLE_S, end_s // script.SAMPLE_S
            stack, steps = sharer.stacks[end_s], np.arange(end - begin + 1)
            assert (stack.low, stack.high) == (low[end], high[end])
            reached = set()
            for start in sharer.stacks[begin_s].reached:
                for stop in range(stack.low, stack.high + 1):
                    span = int(steps[-1])
                    put_out = start + (2 * (stop - start) * steps + span) // (2 * span)
                    kept = (put_out >= low[begin : end + 1]) & (put_out <= high[begin : end + 1])
                    if kept.all():
                        reached.add(stop)
            assert stack.reached == reached
        counts = {row.second: row.count for row in sharer.found.rows if row.relay}
        assert counts.keys() == sharer.stacks.keys()
        assert all(counts[second] in stack.reached for second, stack in sharer.stacks.items())


def test_errors_written_are_those_of_a_plain_measurement(script: ModuleType) -> None:
    problem, rough, exact = script.two_ways()
    assert len(rough.rows) == len(exact.rows) == script.TEN
    samples = np.arange(0, 86_400, script.SAMPLE_S)
    for way in (rough, exact):
        light = play(way.rows, problem.times, problem.path.levels, problem.path).light[samples]
        plan = problem.target.reachable  # it may be met half a time step earlier or later
        near = [np.roll(plan, shift)[samples] for shift in range(-30, 31)]
        outside = np.maximum(np.min(near, axis=0) - light, light - np.max(near, axis=0))
        assert float(outside.max()) == pytest.approx(float(way.errors.max()), abs=1e-12)
        assert f"at worst {outside.max() * 100:.1f} %" in script.PICTURES[NAMES[0]]()
