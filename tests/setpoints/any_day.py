"""Any day, any lamp, any grid: strategies for tests of the fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from photoperiod.curves.curve import Curve, Profile, Segment
from photoperiod.drive.grid import TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Target
from tests.conftest import drawn
from tests.setpoints.days import (
    COLUMN,
    DAY,
    FOLLOWS,
    HOUR,
    LINEAR,
    LOW_PORT,
    NEVER,
    NONE,
    SQUARE,
    STANDBY,
    TEN_MILLIVOLTS,
    bounded,
    grid,
    path,
    target,
)


@dataclass(frozen=True)
class Case:
    aim: Target
    times: TimeGrid
    limit: int


@st.composite
def curves(draw: st.DrawFn) -> Curve:
    """One or two parts of a few ramps each, on any second, anywhere in the day."""
    parts = []
    for _ in range(draw(st.integers(1, 2))):
        now = draw(st.integers(0, DAY - 1))
        left = DAY
        light = draw(st.sampled_from([0.0, 0.0, 0.3]))
        segments = []
        for _ in range(draw(st.integers(1, 4))):
            length = draw(st.one_of(st.integers(1, 8 * HOUR), st.integers(1, 48).map(_half_hours)))
            following = draw(st.one_of(st.floats(0, 1), st.sampled_from([0.0, 0.005, light])))
            if length > left:
                break
            shape = draw(st.sampled_from(["linear", "sine", "smooth", "perceptual"]))
            segments.append(Segment(now, now + length, light, following, shape))
            now, left, light = now + length, left - length, following
            if draw(st.integers(0, 3)) == 0:
                light = draw(st.floats(0, 1))  # a step
        parts.append(Profile(tuple(segments)))
    return Curve(tuple(parts))


def _half_hours(n: int) -> int:
    return n * HOUR // 2


@st.composite
def light_paths(draw: st.DrawFn) -> LightPath:
    ballast = draw(st.sampled_from([SQUARE, LINEAR, STANDBY, NEVER]))
    below = draw(st.sampled_from(["nearest", "dark", "floor"]))
    ballast = replace(ballast, below_floor=below)
    relays = [COLUMN, FOLLOWS] if ballast.dark == "relay" else [COLUMN, FOLLOWS, NONE]
    unit, step = draw(
        st.sampled_from([("percent", "1"), ("percent", "0.5"), ("percent", "5"), ("code", "1")])
    )
    rounding = draw(st.sampled_from(["half-up", "down", "toward-last-row"]))
    converter = draw(st.sampled_from([TEN_MILLIVOLTS, TEN_MILLIVOLTS, LOW_PORT]))
    return path(ballast, draw(st.sampled_from(relays)), unit, step, rounding, converter)


@st.composite
def time_grids(draw: st.DrawFn) -> TimeGrid:
    return grid(
        draw(st.sampled_from([60, 60, 300, 900, 3600, 43_200])),
        draw(st.sampled_from(["line", "hold"])),
        draw(st.sampled_from(["wrap", "hold"])),
    )


@st.composite
def cases(draw: st.DrawFn) -> Case:
    aim = target(draw(curves()), draw(light_paths()))
    times = bounded(aim.path, draw(time_grids()))
    return Case(aim, times, draw(st.integers(1, 24)))


#: A fit takes tens of milliseconds; shrinking a failure would take minutes.
slow_ones = settings(
    max_examples=drawn(25),
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
