"""When a certificate calls a table the best."""

from __future__ import annotations

import pytest

from photoperiod.setpoints.certificate import Certificate, Method
from tests.setpoints.days import NOON, grid, one, path


def certificate(
    error: float, bound: float, joint_error: float | None = None, joint_bound: float | None = None
) -> Certificate:
    return Certificate(error=error, bound=bound, floor=0.0, floor_rows=None, half_rows=None,
                       sample_s=60, tolerance_s=30, joint_error=joint_error,
                       joint_bound=joint_bound)  # fmt: skip


@pytest.mark.parametrize(
    ("error", "bound", "is_best"), [(0.0105, 0.01, True), (0.0106, 0.01, False), (0.0, 0.0, True)]
)
def test_the_best_table_is_at_most_a_twentieth_above_its_bound(
    error: float, bound: float, is_best: bool
) -> None:
    assert certificate(error, bound).is_best is is_best


def test_channels_that_share_times_are_judged_by_their_joint_error() -> None:
    assert certificate(0.5, 0.1, joint_error=0.021, joint_bound=0.02).is_best
    assert not certificate(0.1, 0.1, joint_error=0.03, joint_bound=0.02).is_best


def test_methods_are_written_as_in_files() -> None:
    assert [str(method) for method in Method] == [
        "exact", "best-found", "simplification", "coarser-times", "forced",
    ]  # fmt: skip


def test_a_table_is_played_once_for_all_who_look_at_it() -> None:
    found = one(NOON, path(), grid(900), 6)
    assert found.replay is found.replay
    assert found.replay.counts[12 * 3600] == max(row.count for row in found.rows)
