"""Drawn schedules through all of `compile`: the laws hold, and the draws reach the whole language."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod import api
from tests.drawn import reach
from tests.drawn.compiled import put_readings
from tests.drawn.draw import draw
from tests.drawn.run import AGAIN_EVERY, Run, run_of

#: Schedules of the ordinary run, and of the long one; the sweeps of benchmarks/drawn.py begin later.
FEW, MANY = 24, 126

#: So many draws use each key of the language at least once.
DRAWS = 4_000


def assert_reaches(run: Run, seeds: range) -> None:
    """Most are written, some are refused, and many kinds of findings are met."""
    assert run.written > 0.6 * len(seeds)
    assert run.refused > 0.03 * len(seeds)
    assert run.again == sum(seed % AGAIN_EVERY == 0 for seed in seeds)
    assert len(run.codes) > 20


def test_drawn_schedules_are_compiled_as_the_laws_say() -> None:
    run = run_of(0, FEW)
    assert run.failures == []
    assert_reaches(run, range(FEW))


@pytest.mark.slow
def test_more_drawn_schedules_are_compiled_as_the_laws_say() -> None:
    run = run_of(FEW, MANY)
    assert run.failures == []
    assert_reaches(run, range(FEW, FEW + MANY))


def test_a_lamp_that_gives_a_thousandth_of_what_was_measured_is_told_to_few_digits() -> None:
    # 0.181 % of it, by a new tube beside whose share the old one's is its watts: a peak of 0.383, or 0.3837.
    assert run_of(1_024_400, 1).failures == []


def test_the_same_seed_draws_the_same_schedule() -> None:
    assert all(draw(seed) == draw(seed) for seed in range(20))
    assert len({draw(seed).text for seed in range(20)}) == 20


def test_a_coarse_step_of_codes_stands_below_the_floor(tmp_path: Path) -> None:
    # A code of a converter up to 12 V is more than one up to 10 V: no relay that follows the level suited.
    for seed in (1_002_386,):
        drawn = draw(seed)
        put_readings(drawn, tmp_path)
        loaded = api.load_text(drawn.name, drawn.text.encode(), tmp_path)
        assert loaded.schedule.channels


@pytest.mark.slow
def test_every_key_and_word_of_the_language_is_drawn() -> None:
    used = set()
    for seed in range(DRAWS):
        drawn = draw(seed)
        used |= reach.used(drawn.data) | reach.used(drawn.own)
    assert sorted(reach.known() - used) == []
    assert used <= reach.known()
