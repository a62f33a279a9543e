"""Days of a sun worked out by hand, as the seasons of one channel, and errors measured apart."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from scipy import ndimage

from photoperiod.drive.light_path import LightPath
from photoperiod.program.season_days import LEAST_DOSE_H, SeasonDays
from photoperiod.setpoints.fit import Fit, fit
from photoperiod.setpoints.problem import Target
from tests.conftest import SCHEDULE, compiled

DAY = 86_400
ROWS = 10

PROGRAM = compiled(SCHEDULE).program
assert PROGRAM is not None
SCHEDULE_PATH = PROGRAM.channels["blue"].path
TIMES = PROGRAM.schedule.controller.times


def sun(day: int, latitude: float = 38.5, peak: float = 0.8) -> np.ndarray:
    """Light by the sine of the sun's altitude, by hand: declination of a circular orbit."""
    declination = math.radians(23.44) * math.sin(2 * math.pi * (day - 80) / 365)
    angle = 2 * math.pi * (np.arange(DAY) - DAY / 2) / DAY
    phi = math.radians(latitude)
    sine = math.sin(phi) * math.sin(declination)
    sine = sine + math.cos(phi) * math.cos(declination) * np.cos(angle)
    return np.asarray(peak * np.maximum(sine, 0.0))


def target(light: np.ndarray, path: LightPath = SCHEDULE_PATH) -> Target:
    reachable = path.ballast.reachable(light, path.most_light)
    return Target(name="blue", reachable=reachable, corners=(), path=path)


def fitted(targets: Mapping[str, Target]) -> dict[str, Fit]:
    return {id: fit([each], TIMES, ROWS)[0] for id, each in targets.items()}


def span_of(
    lights: list[np.ndarray],
    tolerance_s: int = 300,
    breaks: frozenset[int] = frozenset(),
    path: LightPath = SCHEDULE_PATH,
) -> SeasonDays:
    targets = [target(light, path) for light in lights]
    samples = np.array([each.reachable[::60] for each in targets], dtype=np.float32)
    return SeasonDays(
        {"blue": samples}, [{"blue": each} for each in targets], fitted, tolerance_s, breaks
    )


class Measured:
    """What is wanted in every second of some days, by SciPy's filters and no shared code."""

    def __init__(self, span: SeasonDays, tolerance_s: int) -> None:
        wanted = [span.targets[day]["blue"].reachable for day in range(span.days)]
        window = 2 * tolerance_s + 1
        self.most = [ndimage.maximum_filter1d(each, window, mode="wrap") for each in wanted]
        self.least = [ndimage.minimum_filter1d(each, window, mode="wrap") for each in wanted]
        self.peak = max(float(each[::60].max()) for each in wanted)
        self.hours = [max(float(each.sum()) / 3600, LEAST_DOSE_H) for each in wanted]

    def error_of(self, given: np.ndarray, day: int) -> float:
        """The larger of the errors of light and dose of a table on a day."""
        light = float(np.maximum(given - self.most[day], self.least[day] - given).max()) / self.peak
        given_h = max(float(given.sum()) / 3600, LEAST_DOSE_H)
        return max(light, abs(given_h - self.hours[day]) / self.hours[day])
