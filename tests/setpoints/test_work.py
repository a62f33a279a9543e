"""Work is counted up to its limit."""

from __future__ import annotations

import pytest

from photoperiod.setpoints.work import MOST_HELD, WorkSpent


def test_work_up_to_the_limit_is_allowed_and_one_more_gate_is_not() -> None:
    work = WorkSpent(10)
    work.add(4)
    work.add(6)
    assert work.spent == 10
    with pytest.raises(WorkSpent.Exhausted):
        work.add(1)


def test_memory_is_refused_before_it_is_taken() -> None:
    work = WorkSpent(10)
    work.hold(MOST_HELD)
    assert work.spent == 0
    with pytest.raises(WorkSpent.Exhausted):
        work.hold(MOST_HELD + 1)
