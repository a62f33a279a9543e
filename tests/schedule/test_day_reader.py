from __future__ import annotations

from typing import Any

import pytest

from photoperiod.curves.shapes import Shape
from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Dusk,
    Event,
    Moonlight,
    MoonlightKind,
    Peak,
    PeakOf,
    Point,
    Points,
    Ramps,
    SunDay,
)
from photoperiod.schedule.day_reader import read_day, read_moonlight
from photoperiod.sky.kinds import SunEvent, SunModel


def cursor(data: dict[str, Any], *bad: Path) -> Cursor:
    return Cursor(data, ("day",), frozenset(("day", *path) for path in bad))


RAMPS = {
    "kind": "ramps",
    "dawn": {"start": "09:00", "minutes": 1.5, "shape": "sine"},
    "peaks": [
        {"light_percent": 80},
        {"light_percent": 50, "from": "noon - 30 min", "minutes": 10, "shape": "smooth"},
    ],
    "dusk": {
        "end": {"at": "sunset + 30 min", "not_before": "17:00", "if_none": "15:00"},
        "start": "sunset",
    },
}


def test_ramps() -> None:
    assert read_day(cursor(RAMPS)) == Ramps(
        dawn=Dawn(start=ClockTime(32_400), length_s=90, shape=Shape.SINE),
        peaks=(
            Peak(light=0.8),
            Peak(
                light=0.5,
                ramp_start=Event(name=SunEvent.NOON, offset_s=-1800),
                ramp_s=600,
                shape=Shape.SMOOTH,
            ),
        ),
        dusk=Dusk(
            end=Event(
                name=SunEvent.SUNSET,
                offset_s=1800,
                not_before=ClockTime(61_200),
                if_none=ClockTime(54_000),
            ),
            start=Event(name=SunEvent.SUNSET),
        ),
    )


def test_points_and_sun() -> None:
    points = {"kind": "points", "points": [{"time": "24:00", "light_percent": 5}]}
    assert read_day(cursor(points)) == Points((Point(ClockTime(86_400), 0.05),))
    sun = {"kind": "sun", "peak_light_percent": 80}
    assert read_day(cursor(sun)) == SunDay(peak_light=0.8)
    more = sun | {"peak_of": "day", "model": "clear-sky"}
    assert read_day(cursor(more)) == SunDay(
        peak_light=0.8, peak_of=PeakOf.DAY, model=SunModel.CLEAR_SKY
    )


@pytest.mark.parametrize(
    ("kind", "key"), [("steady", "light_percent"), ("phase", "full_light_percent")]
)
def test_moonlight(kind: str, key: str) -> None:
    given = {"kind": kind, key: 2, "start": "21:00", "end": "sunrise"}
    assert read_moonlight(cursor(given)) == Moonlight(
        kind=MoonlightKind(kind),
        light=0.02,
        start=ClockTime(75_600),
        end=Event(name=SunEvent.SUNRISE),
    )


def test_a_faulty_value_does_not_hide_the_rest_of_the_day() -> None:
    whole = read_day(cursor(RAMPS))
    day = read_day(cursor(RAMPS, ("dawn", "minutes"), ("peaks", 1, "shape"), ("dusk", "start")))
    assert isinstance(day, Ramps) and isinstance(whole, Ramps)
    assert (day.dawn.start, day.dawn.shape) == (whole.dawn.start, whole.dawn.shape)
    assert day.dusk.end == whole.dusk.end and len(day.peaks) == 2
    assert day.dawn.length_s is not None and day.dusk.start is not None, "they are written"


@pytest.mark.parametrize("bad", [("kind",), ("dawn",), ("dusk",)])
def test_without_its_kind_or_its_ends_a_day_can_not_be_read(bad: Path) -> None:
    with pytest.raises(AlreadyReported):
        read_day(cursor(RAMPS, bad))
