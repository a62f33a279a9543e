"""Windows at full: their length, their middle, and the light of others around them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.tubes.burn_in_windows import (
    Moments,
    WeighedChannel,
    inside,
    moved_light,
    place_window,
    window_around,
    window_mask,
)

HOUR = 3600
NIGHT = 0.15

EVER = np.ones(86_400, dtype=bool)


@given(
    centre=st.floats(0, 86_399), steps=st.integers(1, 1000), step=st.sampled_from([60, 300, 900])
)
def test_a_window_stands_on_the_grid_around_its_middle(
    centre: float, steps: int, step: int
) -> None:
    start, stop = window_around(centre, steps * step, step)
    assert stop - start == steps * step
    assert start % step == 0
    assert abs((start + stop) / 2 - centre) <= step / 2


def test_of_two_windows_as_near_the_later_is_taken_however_sums_are_rounded() -> None:
    for centre_s in (54_000.0, 54_000 - 1e-8, 54_000 + 1e-8):  # 461 minutes around 15:00
        assert window_around(centre_s, 461 * 60, 60) == (11 * HOUR + 600, 18 * HOUR + 51 * 60)


def test_a_window_that_crosses_midnight_is_lit_on_both_sides() -> None:
    mask = window_mask(-HOUR, 2 * HOUR)
    assert mask[: 2 * HOUR].all() and mask[-HOUR:].all() and mask.sum() == 3 * HOUR


def test_a_window_moves_as_little_as_needed_to_lie_in_other_light() -> None:
    lit = window_mask(10 * HOUR, 20 * HOUR)
    assert inside(11 * HOUR, 19 * HOUR, lit, EVER, 60) == (11 * HOUR, 19 * HOUR)
    start, stop = inside(9 * HOUR, 17 * HOUR, lit, EVER, 60) or (0, 0)
    assert (start, stop) == (10 * HOUR + 60, 18 * HOUR + 60)  # others are lit the second before
    assert inside(9 * HOUR, 20 * HOUR, window_mask(10 * HOUR, 11 * HOUR), EVER, 60) is None


def channel(id: str, start_h: float, stop_h: float, window: tuple[int, int] | None = None,
            zone: str = "crest") -> WeighedChannel:  # fmt: skip
    """A channel of flat light at 100 µmol m⁻² s⁻¹, and perhaps a window at full."""
    light = 0.5 * window_mask(int(start_h * HOUR), int(stop_h * HOUR))
    full = None if window is None else window_mask(*window).astype(float)
    return WeighedChannel(
        id=id, ppfd={zone: 100.0}, light=Moments.of(light), window=window, full=full
    )


def test_moments_hold_the_most_and_the_mean_of_each_minute() -> None:
    light = np.zeros(86_400)
    light[30:60] = 0.8  # half of the first minute
    moments = Moments.of(light)
    assert moments.most.shape == moments.mean.shape == (1440,)
    assert moments.most[0] == 0.8 and moments.mean[0] == pytest.approx(0.4)
    assert not moments.most[1:].any() and not moments.mean[1:].any()


def test_a_window_is_placed_where_others_light_all_zones_that_both_light() -> None:
    new = channel("new", 8, 20, (10 * HOUR, 16 * HOUR))
    placed = place_window(new, (channel("old", 6, 22),), NIGHT, 60)
    assert placed is not None and placed.window == (10 * HOUR, 16 * HOUR) and not placed.is_outside
    # the other is lit from 12:00 to 19:00 only: six hours later than at its start, at 12:01
    placed = place_window(new, (channel("old", 12, 19),), NIGHT, 60)
    assert placed is not None and placed.window == (12 * HOUR + 60, 18 * HOUR + 60)


def test_a_window_that_no_light_surrounds_stays_and_says_so() -> None:
    new = channel("new", 8, 20, (10 * HOUR, 16 * HOUR))
    for others in ((), (channel("old", 12, 13),), (channel("away", 6, 22, zone="back"),)):
        placed = place_window(new, others, NIGHT, 60)
        assert placed is not None
        assert placed.window == (10 * HOUR, 16 * HOUR) and placed.is_outside


def test_light_below_that_of_a_night_surrounds_nothing() -> None:
    new = channel("new", 8, 20, (10 * HOUR, 16 * HOUR))
    dim = WeighedChannel(id="dim", ppfd={"crest": 0.14}, light=Moments.of(np.ones(86_400)))
    placed = place_window(new, (dim,), NIGHT, 60)
    assert placed is not None and placed.is_outside
    bright = WeighedChannel(id="dim", ppfd={"crest": 0.15}, light=Moments.of(np.ones(86_400)))
    placed = place_window(new, (bright,), NIGHT, 60)
    assert placed is not None and not placed.is_outside


def test_a_window_longer_than_its_own_day_by_plan_has_no_place() -> None:
    assert place_window(channel("new", 8, 12, (6 * HOUR, 16 * HOUR)), (), NIGHT, 60) is None
    assert place_window(channel("none", 8, 12), (), NIGHT, 60) is None


def test_the_light_of_a_window_moves_with_it() -> None:
    moved = moved_light(channel("new", 8, 20, (10 * HOUR, 16 * HOUR)), (11 * HOUR, 17 * HOUR))
    assert np.flatnonzero(moved.mean)[[0, -1]].tolist() == [11 * 60, 17 * 60 - 1]
    over_midnight = moved_light(channel("new", 8, 20, (0, HOUR)), (-1800, 1800))
    assert np.flatnonzero(over_midnight.most == 0)[[0, -1]].tolist() == [30, 1440 - 31]
    with pytest.raises(ValueError, match="no window"):
        moved_light(channel("none", 8, 12), (0, HOUR))
