"""What an error means to each channel of a column, and where the day is cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.setpoints.shared import times_for
from photoperiod.setpoints.shared_problem import SharedChannel, SharedProblem
from photoperiod.setpoints.tolerance import Wanted
from photoperiod.setpoints.work import WorkSpent
from tests.setpoints.test_segments import ladder


def channel(plan: list[float], lit: str, scale: float = 1.0, floor: float = 0.0) -> SharedChannel:
    middle = np.array(plan)
    return SharedChannel(
        wanted=Wanted(least=middle, most=middle, middle=middle),
        ladder=ladder(10),
        lit=np.array([sign == "#" for sign in lit]),
        scale=scale,
        floor=floor,
    )


def problem(channels: list[SharedChannel], forced: set[int], wraps: bool = True) -> SharedProblem:
    return SharedProblem(channels=channels, forced=frozenset(forced), grid=1, rounding="half-up",
                         between="line", wraps=wraps)  # fmt: skip


def test_an_error_counts_as_a_share_of_the_peak_and_a_floor_holds_nobody_back() -> None:
    moon = channel([0.1], "#", scale=0.05, floor=0.002)  # a peak of 10 %, weight 2
    assert moon.joint_error(0.01) == pytest.approx(0.2)
    assert moon.joint_error(0.002) == 0.0
    assert moon.tolerance(0.2) == pytest.approx(0.01)
    assert moon.tolerance(0.0) == pytest.approx(0.002, abs=2e-7)


def test_every_channel_gets_the_band_that_the_joint_error_leaves_it() -> None:
    bands = problem([channel([0.5], "#"), channel([0.5], "#", scale=0.5)], {0}).at_error(0.2)
    assert [(int(c.band.low[0]), int(c.band.high[0])) for c in bands] == [(3, 7), (4, 6)]


def test_few_counts_are_tried_in_wide_gates_only() -> None:
    coarse = replace(problem([channel([0.5], "#")], {0}), counts_most=4)
    # 9 counts, 1 to 9, leave strides of 4; 3 counts, 4 to 6, are all tried
    assert [coarse.at_error(error)[0].stride for error in (0.4, 0.1)] == [4, 1]


def test_rows_stand_near_given_times_around_midnight_too() -> None:
    shared = problem([channel([0.5] * 8, "########")], {1})
    near = shared.near([0, 4], 1)
    assert near.places is not None
    assert np.flatnonzero(near.places).tolist() == [0, 1, 3, 4, 5, 7]
    assert near.column(near.at_error(0.1), 1).places is near.places


def test_the_day_is_cut_where_fewest_counts_go_through() -> None:
    wide, narrow = channel([0.5] * 4, "####", scale=2.0), channel([0.5] * 4, ".##.")
    shared = problem([wide, narrow], {1, 2, 3})
    # at 2 both channels go through; at 1 and 3 only the first does, and the earlier one is taken
    assert shared.cuts(shared.at_error(0.1)) == (1,)
    assert problem([wide], {0, 2}, wraps=False).cuts(shared.at_error(0.1)) == (0,)


def test_the_column_begins_at_the_cut_and_goes_around_the_day() -> None:
    shared = problem([channel([0.5] * 4, "####")], {1, 3})
    column = shared.column(shared.at_error(0.1), 3)
    assert column.forced == (3, 5)
    assert column.steps == 4


def test_without_switchings_a_row_stands_where_no_line_passes() -> None:
    # Level for nine hours, then up and down within three: a line that stays level misses the peak.
    plan = [0.2] * 9 + [0.2, 0.9, 0.2]
    shared = problem([channel(plan, "#" * 12)], set())
    cuts = set(shared.cuts(shared.at_error(0.05)))
    assert cuts
    assert cuts < set(range(12))
    assert cuts & {9, 10, 11}
    # one level that suits all day needs no row anywhere, and an empty gate lets no table through
    level = problem([channel([0.5] * 12, "#" * 12)], set())
    assert level.cuts(level.at_error(0.05)) == (0,)


def test_where_a_row_would_stand_between_two_places_there_is_no_table() -> None:
    # A peak of a quarter of a step: no line passes it, and no row can stand at it.
    plan = [0.2] * 5 + [0.9] + [0.2] * 6
    between = replace(problem([channel(plan, "###")], set()), grid=4)
    assert list(between.cuts(between.at_error(0.05))) == []
    assert times_for(between, 0.05, 2, WorkSpent(10**6)) is None


def test_one_channel_without_darkness_goes_round_the_day() -> None:
    alone = problem([channel([0.5] * 4, "####")], set())
    assert alone.is_circle
    assert not problem([channel([0.5] * 4, "####")], {0}, wraps=False).is_circle
    assert not problem([channel([0.5] * 4, "##..")], {0, 2}).is_circle
    assert not problem([channel([0.5] * 4, "####")] * 2, set()).is_circle
    assert not replace(alone, between="hold").is_circle


def test_what_leaves_out_counts_or_places_is_not_exact() -> None:
    alone = problem([channel([0.5] * 4, "####")], set())
    assert alone.is_exact
    assert not replace(alone, stride=2).is_exact
    assert not replace(alone, counts_most=16).is_exact
    assert not alone.near([0], 1).is_exact
