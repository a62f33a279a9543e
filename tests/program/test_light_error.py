"""The error of light with a tolerance in time, against SciPy's filters over the seconds of a day."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from photoperiod.arrays import Floats
from photoperiod.drive.replay import LightSteps
from photoperiod.program.light_error import light_error

DAY = 86_400


def filtered_error(given: Floats, wanted: Floats, reach_s: int) -> tuple[float, bool]:
    """The definition in each second: the range of what is wanted around it, and the distance from it."""
    single = wanted.astype(np.float32)
    low, high = (
        extreme(single, 2 * reach_s + 1, mode="wrap").astype(np.float64)
        for extreme in (ndimage.minimum_filter1d, ndimage.maximum_filter1d)
    )
    most = max(0.0, float((low - given).max()), float((given - high).max()))
    return most, bool(((given > 0) & (high <= 0)).any())


def stairs(*steps: tuple[int, float]) -> Floats:
    """Light that is held from each second on; what the last step gives comes before the first, too."""
    light = np.full(DAY, steps[-1][1])
    for (begin, value), (end, _) in zip(steps, [*steps[1:], (DAY, 0.0)], strict=True):
        light[begin:end] = value
    return light


def sun(begin: int, end: int, peak: float) -> Floats:
    seconds = np.arange(DAY)
    arc = np.sin(np.pi * (seconds - begin) / (end - begin))
    return np.where((seconds >= begin) & (seconds < end), peak * np.maximum(arc, 0.0), 0.0)


NIGHT = np.zeros(DAY)
MOON = stairs((3_600, 0.0), (70_000, 0.08))
STEPS_OF_SUN = stairs(*((t, float(sun(20_000, 60_000, 0.7)[t])) for t in range(0, DAY, 1_700)))

#: The same from midnight on, but that it begins 100 s before; and with a lamp long after it.
EARLY = np.where(np.arange(DAY) >= 86_300, 0.3, np.roll(STEPS_OF_SUN, -20_000))
LATE = np.where(np.arange(DAY) // 100 == 800, 0.3, STEPS_OF_SUN)

CASES = {
    "a moon over midnight": (stairs((3_630, 0.0), (70_300, 0.078)), MOON, 300),
    "a moon that is too early": (stairs((3_600, 0.0), (69_600, 0.08)), MOON, 300),
    "a moon that is as early as it may be": (stairs((3_600, 0.0), (69_700, 0.08)), MOON, 300),
    "light in a dark night": (stairs((100, 0.2), (160, 0.0)), NIGHT, 60),
    "no light at all": (NIGHT, NIGHT, 60),
    "a dark table on a moon": (NIGHT, MOON, 60),
    "a sun by day": (STEPS_OF_SUN, sun(20_000, 60_000, 0.7), 60),
    "a sun that is lit too long": (stairs((19_000, 0.3), (61_500, 0.0)), sun(20_000, 60_000, 0.7), 300),
    "a sun that touches midnight": (STEPS_OF_SUN, sun(100, 86_350, 0.7), 900),
    "a sun that ends a reach before midnight": (STEPS_OF_SUN, sun(300, 86_100, 0.7), 300),
    "a sun that begins at midnight": (EARLY, np.roll(sun(20_000, 60_000, 0.7), -20_000), 300),
    "a lamp far from the sun": (LATE, sun(20_000, 60_000, 0.7), 300),
    "light at midnight": (stairs((0, 0.01), (90, 0.0), (86_390, 0.02)), sun(30_000, 50_000, 1), 60),
    "steps at the ends of the reach": (stairs((19_700, 0.3), (60_300, 0.0)), sun(20_000, 60_000, 0.7), 300),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_error_is_that_of_the_filters(case: str) -> None:
    given, wanted, reach_s = CASES[case]
    assert light_error(LightSteps.of(given), wanted, reach_s) == filtered_error(
        given, wanted, reach_s
    )


def test_random_stairs_have_the_error_of_the_filters() -> None:
    draw = np.random.default_rng(20270101)
    for few in (3, 40, 90):
        given, wanted = (
            stairs(*((int(t), float(v)) for t, v in zip(at, draw.random(few), strict=True)))
            for at in (np.sort(draw.choice(DAY, few, replace=False)) for _ in range(2))
        )
        assert light_error(LightSteps.of(given), wanted, 120) == filtered_error(given, wanted, 120)
