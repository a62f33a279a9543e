"""How switchings cut a day into stretches, and the bound on rows, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.setpoints.columns import Column, ColumnChannel, least_rows, stretches_of
from photoperiod.setpoints.tolerance import ToleranceBand


def channel(lit: str, low: list[int], high: list[int], first: int = 0) -> ColumnChannel:
    band = ToleranceBand(np.array(low), np.array(high))
    return ColumnChannel(band=band, lit=np.array([sign == "#" for sign in lit]), first=first)


def column(channels: list[ColumnChannel], forced: tuple[int, ...], wraps: bool = True) -> Column:
    return Column(channels=channels, forced=forced, grid=1, rounding="half-up", between="line",
                  wraps=wraps)  # fmt: skip


ANYTHING = ([0] * 6, [9] * 6)


def test_stretches_run_from_one_forced_row_to_the_next_and_around_the_day() -> None:
    day, night = channel(".###..", *ANYTHING), channel("#...##", *ANYTHING)
    first, second, third = stretches_of(column([day, night], (1, 3, 4)))
    assert [(s.begin, s.length, s.is_last) for s in (first, second, third)] == [
        (0, 2, False), (2, 1, False), (3, 3, True),
    ]  # fmt: skip
    assert [sorted(s.runs) for s in (first, second, third)] == [[0], [0], [1]]
    assert (first.opens, first.closes) == (
        [0],
        [],
    )  # lit goes on, so its run has the gate at the end
    assert (first.runs[0].length, first.runs[0].end) == (3, None)
    assert (second.opens, second.closes) == ([], [0])
    assert (second.runs[0].length, second.runs[0].end) == (1, 0)
    assert (third.opens, third.closes) == (
        [1],
        [1],
    )  # from step 4 over the end of the day to step 1
    assert third.runs[1].length == 3


def test_the_last_stretch_of_a_day_that_does_not_wrap_is_held_to_its_end() -> None:
    lamp = channel("#.....", *ANYTHING)
    always = channel("######", *ANYTHING)
    *_, last = stretches_of(column([lamp, always], (0, 1), wraps=False))
    assert last.is_last
    assert (last.opens, last.closes) == ([], [])
    assert (last.runs[1].length, last.runs[1].end) == (5, None)


def test_the_widest_gate_counts_from_the_first_count_of_a_row() -> None:
    assert channel("#", [2], [9]).widest == 7
    assert channel("#", [2], [9], first=5).widest == 4
    assert channel("#", [9], [2]).widest == 0


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        ([0] * 6, [9] * 6, 1),  # one line around the day
        ([0, 0, 0, 9, 9, 9], [0, 0, 0, 9, 9, 9], 4),  # two levels, a rise and a fall
        ([0, 0, 5, 0, 0, 0], [0, 0, 4, 0, 0, 0], None),  # an empty gate
    ],
)
def test_no_column_does_with_fewer_rows_than_the_bound(
    low: list[int], high: list[int], wanted: int | None
) -> None:
    assert least_rows(column([channel("######", low, high)], (0,))) == wanted


def test_a_stretch_without_a_lit_channel_takes_one_row() -> None:
    dark, lamp = channel("......", *ANYTHING), channel("##....", *ANYTHING)
    assert least_rows(column([dark], (0, 3))) == 2
    assert least_rows(column([dark, lamp], (0, 2))) == 2


def test_a_lamp_lit_until_midnight_does_not_go_dark_by_a_line() -> None:
    # It is dark at 00:00 by the first row of the next day, to which no line leads.
    *_, last = stretches_of(column([channel("...###", *ANYTHING)], (0, 3), wraps=False))
    assert (last.opens, last.closes) == ([0], [])
    assert (last.runs[0].length, last.runs[0].end) == (3, None)


def test_a_coarser_column_has_every_so_many_th_count_and_place_from_the_cut_on() -> None:
    free = column([channel("########", [0] * 8, [9] * 8)], (3,))
    assert free.coarser(1) is free
    coarse = free.coarser(2)
    assert [each.stride for each in coarse.channels] == [2]
    assert coarse.places is not None
    assert np.flatnonzero(coarse.places).tolist() == [1, 3, 5, 7]
    again = coarse.coarser(3)
    assert [each.stride for each in again.channels] == [6]
    assert again.places is not None
    assert np.flatnonzero(again.places).tolist() == [
        3
    ]  # 0, 3 and 6 of each third, odd ones of each second
