"""What channels give to a zone together."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.drive.zone_light import full_ppfd_now, zone_ppfd


def test_tubes_that_lost_light_give_less_than_was_measured() -> None:
    assert full_ppfd_now(130.0, 0.9) == pytest.approx(117.0)
    assert full_ppfd_now(0.0, 1.2) == 0.0


def test_a_zone_gets_the_sum_of_its_channels() -> None:
    # 130 × 0.5 + 40 × 0.25 = 75; 130 × 1 + 40 × 0 = 130
    sources = [(130.0, np.array([0.5, 1.0])), (40.0, np.array([0.25, 0.0]))]
    assert zone_ppfd(sources, np.zeros(2)).tolist() == [75.0, 130.0]
    assert zone_ppfd([(130.0, 0.5), (40.0, 0.25)], 0.0) == 75.0


def test_a_zone_without_channels_is_dark() -> None:
    dark = np.zeros(3)
    assert zone_ppfd([], dark).tolist() == [0.0, 0.0, 0.0]


def test_the_zero_that_is_given_is_left_as_it_is() -> None:
    dark = np.zeros(2)
    zone_ppfd([(100.0, np.array([1.0, 0.5]))], dark)
    assert dark.tolist() == [0.0, 0.0]
