"""A short run of the simulated world, the seeds that failed once, and jumps that leave nothing out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.world.faults import FAULTS
from tests.world.machine import Story, World
from tests.world.story import STATES, Told, all_pairs, play
from tests.world.test_cases import CASES
from tests.world.unmended import UNMENDED
from tests.world.wrong import Violation

#: Each line is a seed, its days, and the mend without which a law is broken in it; then in words what it was.
FAILED = [
    line.split(maxsplit=3)
    for line in (Path(__file__).parent / "seeds.txt").read_text(encoding="utf-8").splitlines()
    if line and not line.startswith("#")
]

#: Worlds of an ordinary run.
FEW = 3

#: Worlds in which every fault is met, chosen among thirty; should another draw make them miss one, so many
#: more are tried. `.ci/run` plays two minutes of others.
VARIED, MOST = (1030, 1016, 1032, 1061, 1064, 1015), 90


def test_no_law_is_broken_in_a_few_days() -> None:
    told = Told()
    for seed in range(FEW):
        told.add(play(seed, 6))
    assert told.days >= 18 and sum(told.faults.values()) >= told.days
    assert told.steps > 500
    assert told.ends["power cut"] > 2


@pytest.mark.slow
def test_no_law_is_broken_until_every_fault_is_met() -> None:
    told = Told()
    for seed in (*VARIED, *range(2000, 2000 + MOST)):
        told.add(play(seed, 20))
        # A fault that few worlds have the devices for may need some more of them.
        if told.faults.keys() == FAULTS.keys():
            break
    assert told.faults.keys() == FAULTS.keys()


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "days", "mend", "words"), FAILED)
def test_seeds_fail_without_their_mend_only(
    seed: str, days: str, mend: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert play(int(seed), float(days)).days >= float(days), words
    UNMENDED[mend](monkeypatch)
    with pytest.raises(Violation):
        play(int(seed), float(days))


def test_every_mend_has_a_seed_or_a_story() -> None:
    assert sorted({mend for _, _, mend, _ in FAILED} | CASES.keys()) == sorted(UNMENDED)


def test_the_same_seed_is_the_same_world() -> None:
    one, other = play(5, 3), play(5, 3)
    assert (one.steps, one.faults, one.pairs, one.ends) == (
        other.steps,
        other.faults,
        other.pairs,
        other.ends,
    )


def test_pairs_are_all_faults_in_all_states() -> None:
    assert len(all_pairs()) == len(FAULTS) * len(STATES) == len(set(all_pairs()))


def _steps(
    folder: Path, monkeypatch: pytest.MonkeyPatch, *, jumps: bool
) -> dict[float, tuple[float, ...]]:
    """Return what the lamps gave after each step of a dawn, with a hold in it, by the time of the step."""
    folder.mkdir()
    world, seen = World(7, folder), {}
    world.true_unix += world.plan.rows[0][0] - 600 - world.true_unix % 86_400
    world.put_table(world.plan.raw)
    world.laws.looked_s = world.true_unix
    if not jumps:
        monkeypatch.setattr("tests.world.machine.DENSE_STEPS", 10**9)
    after_step = world.laws.after_step

    def note() -> None:
        after_step()
        seen[world.laws.step_shown] = tuple(world.level(lamp) for lamp in world.lamps)

    monkeypatch.setattr(world.laws, "after_step", note)

    def story() -> Story:
        yield 7200.0
        world.keeper_holds()
        yield 600.0
        world.keeper_releases()
        yield 5400.0

    world.run(story())
    return seen


def test_steps_that_are_left_out_would_have_changed_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jumped = _steps(tmp_path / "jumps", monkeypatch, jumps=True)
    stepped = _steps(tmp_path / "steps", monkeypatch, jumps=False)
    assert 20 < len(jumped) < len(stepped) / 10
    for at, levels in jumped.items():
        assert stepped[at] == levels
    assert len({levels[0] for levels in jumped.values()}) > 10  # a dawn, a hold, a soft start
