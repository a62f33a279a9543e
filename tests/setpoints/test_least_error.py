"""Growing and shrinking an error, with a question whose answer is known."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from photoperiod.setpoints.least_error import halved, least_error
from photoperiod.setpoints.work import WorkSpent


@dataclass(frozen=True)
class Table:
    error: float


class Asked:
    """Tables exist from an error on; asked within a stretch, the answer takes too much work."""

    resolution = 1e-4

    def __init__(self, least: float, untold: tuple[float, float] = (1.0, 1.0), tries: int = 99):
        self.least, self.untold, self.tries = least, untold, tries
        self.asked: list[float] = []

    def first(self, bound: float) -> float:
        return bound

    def attempt(self, error: float, best: Table | None) -> Table | None:
        self.asked.append(error)
        if self.untold[0] <= error < self.untold[1]:
            raise WorkSpent.Exhausted
        return Table(error) if error >= self.least else None

    def larger(self, refused: float) -> float:
        return 2 * refused + 0.01

    def smaller(self, refused: float, best: float) -> float:
        return (refused + best) / 2

    def is_close(self, best: float, refused: float, proven: float) -> bool:
        return best - refused <= self.resolution

    def is_spent(self) -> bool:
        return len(self.asked) >= self.tries


def test_the_error_grows_until_a_table_keeps_it_and_shrinks_until_none_does() -> None:
    question = Asked(0.3)
    best, proven = least_error(question, 0.0, 1.0)
    assert best is not None
    # 0, 0.01, 0.03, 0.07, 0.15, then 0.31 is kept
    assert question.asked[:6] == pytest.approx([0.0, 0.01, 0.03, 0.07, 0.15, 0.31])
    assert 0.3 <= best.error <= 0.3 + 1e-4
    assert 0.3 - 1e-4 <= proven < 0.3


def test_no_error_above_the_known_one_is_tried() -> None:
    question = Asked(0.9)
    best, proven = least_error(question, 0.0, 0.2)
    assert best is None
    assert max(question.asked) == 0.2
    assert proven == 0.2


def test_what_is_refused_above_an_error_that_took_too_much_work_proves_nothing() -> None:
    # No table from 0.02 to 0.05 could be told of; 0.07 and 0.15 are refused, which leaves 0.01 proven.
    best, proven = least_error(Asked(0.3, untold=(0.02, 0.05)), 0.0, 1.0)
    assert best is not None
    assert best.error == pytest.approx(0.3, abs=1e-4)
    assert proven == 0.01


def test_the_search_ends_when_the_work_is_spent_with_the_best_so_far() -> None:
    best, proven = least_error(Asked(0.3, tries=7), 0.0, 1.0)
    assert best == Table(0.31)  # found by the sixth; the seventh, 0.23, is refused
    assert proven == pytest.approx(0.23)
    nothing, _ = least_error(Asked(0.3, tries=3), 0.0, 1.0)
    assert nothing is None


def test_an_interval_is_halved_around_what_just_fits() -> None:
    assert halved(lambda error: error >= 0.3, 0.0, 1.0, 3) == (0.25, 0.375)
    assert halved(lambda error: True, 0.0, 1.0, 2) == (0.0, 0.25)
    assert halved(lambda error: False, 0.5, 1.0, 1) == (0.75, 1.0)
