"""Sets of single rows that meet doses, against all sets there are."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from photoperiod.setpoints.row_moves import RowMove
from photoperiod.solve import single_rows
from photoperiod.solve.single_rows import SingleRows
from photoperiod.solve.trial import Trial, Trials
from tests.solve.test_trial import schedule

#: A zone's dose by the row moves, and by the replay of the moved table [mol m⁻² d⁻¹].
SAME = 1e-9
PPFD = 130

#: Few rows for a round day, on fine levels: a table's error is that of its rows, not of its levels.
FINE = (
    ("step: 1,", "step: 0.1,"),
    ("setpoints_per_channel: 16", "setpoints_per_channel: 8"),
    ("{start: 09:00, minutes: 60}", "{start: 09:00, minutes: 180, shape: sine}"),
)


def asked_for(more: float, allowed: float) -> tuple[Trials, Trial, SingleRows]:
    """The test schedule's own table, and a dose that is a little more."""
    asked = schedule(*FINE)
    trials = Trials(asked, {})
    trial = trials.of({})
    dose = trial.day.zones["crest"].dli.replay + more
    tables = trials.row_moves(trial, ["blue"])
    return trials, trial, SingleRows(trial, tables, {"crest": (dose, dose)}, {"crest": allowed})


@pytest.mark.parametrize("more", [-0.004, -0.0008, 0.0011, 0.003])
def test_what_is_yielded_meets_the_dose_when_it_is_played(more: float) -> None:
    trials, trial, single = asked_for(more, 4e-4)
    rows = next(single.sets())
    moved = trials.with_rows(trial, rows)
    got = moved.day.zones["crest"].dli.replay - trial.day.zones["crest"].dli.replay
    assert got == pytest.approx(more, abs=4e-4)
    assert moved.fitted["blue"].fit.rows == rows["blue"]
    (told,) = moved.rows
    assert (told.fitted, told.moved) == (trial.fitted["blue"].fit.rows, rows["blue"])
    proof = moved.fitted["blue"].fit.certificate
    assert proof.is_best or not trial.fitted["blue"].fit.certificate.is_best


@pytest.mark.parametrize("more", [0.0, 0.003])
def test_where_a_dose_may_not_be_off_at_all_how_far_it_is_off_is_a_number(more: float) -> None:
    _, trial, single = asked_for(more, 0.0)
    doses = np.array([[trial.day.zones["crest"].dli.replay]])
    assert bool(single._worst(doses)[0] == 0.0) is (more == 0.0)
    assert np.isfinite(single._worst(doses)).all()


def test_no_set_of_fewer_rows_meets_it() -> None:
    more, allowed = 0.003, 2e-4
    _, trial, single = asked_for(more, allowed)
    before = trial.fitted["blue"].fit.rows
    (rows,) = next(single.sets()).values()
    count = sum(a != b for a, b in zip(before, rows, strict=True))
    table = single.first["blue"]

    def is_met(moves: tuple[RowMove, ...]) -> bool:
        dose = sum(move.more_s for move in moves) * PPFD / 1e6
        return abs(dose - more) <= 0.98 * allowed

    fewer = [
        moves
        for size in range(1, count)
        for moves in itertools.combinations(table.single, size)
        if is_met(moves)
        and all(table.are_apart(a.number, b.number) for a, b in itertools.combinations(moves, 2))
    ]
    assert fewer == []


def test_what_rows_can_not_reach_is_not_yielded() -> None:
    assert list(asked_for(1.0, 1e-4)[2].sets()) == []


def test_it_goes_on_from_the_best_where_few_moves_are_not_enough(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(single_rows, "MOST_MOVES", 1)
    more = -0.04  # the farthest that one row goes is -0.031
    trials, trial, single = asked_for(more, 1e-3)
    rows = next(single.sets())
    got = trials.with_rows(trial, rows).day.zones["crest"].dli.replay
    assert got - trial.day.zones["crest"].dli.replay == pytest.approx(more, abs=1e-3)
    monkeypatch.setattr(single_rows, "ROUNDS", 1)
    assert list(asked_for(more, 1e-3)[2].sets()) == []


def test_the_same_question_has_the_same_answer() -> None:
    assert next(asked_for(0.0011, 4e-4)[2].sets()) == next(asked_for(0.0011, 4e-4)[2].sets())
