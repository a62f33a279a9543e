"""A date as it passes, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.curves.curve import Curve, Profile
from photoperiod.curves.segment import Segment
from photoperiod.days.passing_day import PassingDay

H = 3_600

#: Light that rises from dark to full between 00:00 and 04:00.
RISING = Curve((Profile((Segment(0, 4 * H, 0.0, 1.0),)),))
DARK = Curve(())


def test_an_hour_that_never_comes() -> None:
    # 00:00 to 01:00, then 02:00 to 24:00: of the ramp of 4 h the second hour is left out.
    first = Curve((Profile((Segment(0, H, 0.0, 0.25),)),))
    rest = Curve((Profile((Segment(2 * H, 4 * H, 0.5, 1.0),)),))
    day = PassingDay(((0, H), (2 * H, 24 * H)), {"blue": (first, rest)})
    assert day.length_s == 23 * H == day.seconds.size
    assert day.seconds[[0, H - 1, H, -1]].tolist() == [0, H - 1, 2 * H, 24 * H - 1]
    assert day.plan_s("blue") == pytest.approx(0.125 * H + 0.75 * 2 * H)
    wanted = day.wanted("blue")
    assert wanted.shape == (23 * H,)
    assert wanted[H - 1] == pytest.approx(0.25, abs=1e-4)
    assert wanted[H] == pytest.approx(0.5, abs=1e-4)
    assert wanted.sum() == pytest.approx(day.plan_s("blue"), rel=1e-6)


def test_an_hour_that_comes_twice() -> None:
    spans = ((0, 2 * H), (H, 24 * H))
    day = PassingDay(spans, {"blue": (DARK, RISING)})
    assert day.length_s == 25 * H
    assert np.bincount(day.seconds, minlength=24 * H)[[0, H, 2 * H - 1, 2 * H]].tolist() == [
        1,
        2,
        2,
        1,
    ]
    # dark at first, and from 01:00 on for the second time the ramp from a quarter on
    assert day.wanted("blue")[2 * H - 1] == 0.0
    assert day.wanted("blue")[2 * H] == pytest.approx(0.25, abs=1e-4)
