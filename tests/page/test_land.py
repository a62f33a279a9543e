"""Light at points is by hand from the readings: PPFD at full, times the light of the table."""

from __future__ import annotations

import csv
import datetime as dt
import io

import numpy as np
import pytest

from photoperiod.page.land import LandedLight, land_figure, landed
from photoperiod.program.dates import DateSpan
from tests.page.pages import compiled, example, page, table

DATES = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 2))


def found() -> LandedLight:
    reef = compiled(example("measured-reef"), DATES)
    (light,) = landed(reef.schedule, reef.program.tables[0], reef.loaded.readings)
    return light


def test_light_at_a_point_is_the_readings_times_the_light_of_the_table() -> None:
    light = found()
    reef = compiled(example("measured-reef"), DATES)
    raw = reef.loaded.readings["readings/map.csv"]
    rows = [
        row
        for row in csv.DictReader(io.StringIO(raw.decode()))
        if (row["x_cm"], row["y_cm"], row["depth_cm"]) == ("10", "5", "6") and not row["leave_out"]
    ]
    expected = 0.0
    for id in ("blue", "white", "violet"):
        of_channel = [
            float(row["ppfd_umol_m2_s"])
            * (float(row["immersion_factor"]) if row["immersion_applied"] == "no" else 1.0)
            for row in rows
            if row["channel"] == id
        ]
        given = float(reef.program.channels[id].replay.light[light.second])
        expected += sum(of_channel) / len(of_channel) * given
    point = next(
        index
        for index in range(len(light.ppfd))
        if light.map.point_text(index) == "x 10, y 5, depth 6 cm"
    )
    assert light.ppfd[point] == pytest.approx(expected, rel=1e-6)


def test_the_moment_is_the_brightest() -> None:
    light = found()
    reef = compiled(example("measured-reef"), DATES)
    total = sum(
        np.nansum(full) * reef.program.channels[id].replay.light
        for id, full in light.map.full.items()
    )
    assert light.second == int(np.argmax(total))


def test_every_depth_has_a_map_and_every_point_a_disc() -> None:
    light = found()
    reef = compiled(example("measured-reef"), DATES)
    figure = land_figure(reef.program, light, 1)
    assert figure is not None
    depths = [w.text for w in figure.words if w.look == "name"]
    assert depths == ["depth 6 cm", "depth 16 cm", "depth 28 cm", "depth 39 cm", "depth 50 cm"]
    discs = [s for s in figure.shapes if s.look == "disc"]
    rings = [s for s in figure.shapes if s.look == "hollow"]
    assert len(discs) == int(np.isfinite(light.ppfd).sum())
    assert len(discs) + len(rings) == len(light.ppfd)
    assert rings, "one reading is left out, so its point is a ring"
    rows = table(page(example("measured-reef"), DATES), "PPFD in µmol m⁻² s⁻¹ at")
    assert len(rows) == len(discs) + 1


def test_schedules_without_readings_have_no_map() -> None:
    reef = compiled(example("smallest"))
    assert landed(reef.schedule, reef.program.tables[0], reef.loaded.readings) == ()


def test_readings_of_zones_alone_have_no_map() -> None:
    reef = compiled(example("measured-reef"), DATES)
    zones = b"zone,channel,level_percent,ppfd_umol_m2_s\ncrest,blue,100,120\ncrest,white,100,90\n"
    assert landed(reef.schedule, reef.program.tables[0], {"zones.csv": zones}) == ()
