"""How far a log is off the table, and how far it may be off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT, ClockShift
from photoperiod.compare.deviations import Deviations, deviations_of, seconds_of
from photoperiod.compare.expected import LoggedLight
from photoperiod.compare.model import Limits

MINUTES = 60.0 * np.arange(60)


def deviations(
    values: float,
    wanted: float,
    *,
    scale: float = 1.0,
    holds: bool = True,
    limits: Limits | None = None,
) -> Deviations:
    light = LoggedLight(
        subject="crest",
        is_zone=scale != 1.0,
        scale=scale,
        holds=holds,
        unix_s=MINUTES,
        values=np.full(60, values),
        expected=lambda at: np.full(at.shape, wanted),
    )
    return deviations_of(light, limits or Limits(), RIGHT)


@pytest.mark.parametrize(
    ("wanted", "most"),
    [
        (0.0, 0.001),  # darkness: a tenth of a floor of 1 %
        (0.01, 0.006),  # a floor: half of itself and that
        (0.02, 0.011),
        (0.5, 0.02),  # --light-within-percent
    ],
)
def test_what_may_be_off_shrinks_with_the_light(wanted: float, most: float) -> None:
    assert not deviations(wanted + most * 0.99, wanted).wrong.any()
    assert deviations(wanted + most * 1.01, wanted).wrong.all()
    if wanted:
        assert deviations(wanted - most * 1.01, wanted).wrong.all()


def test_darkness_of_a_zone_is_absolute() -> None:
    """0.15 µmol m⁻² s⁻¹ harmed symbionts (PMC8256845), whatever the lamps give at full."""
    for scale in (50.0, 1000.0):
        assert not deviations(0.149, 0.0, scale=scale, holds=False).wrong.any()
        found = deviations(0.151, 0.0, scale=scale, holds=False)
        assert found.wrong.all() and found.is_dark.all()
    assert not deviations(0.151, 0.0, scale=50.0, limits=Limits(dark_ppfd=0.2)).wrong.any()


def test_the_tolerance_in_time_and_the_doubt_of_a_clock_go_together() -> None:
    """A lamp that goes dark at 1800 s; the log has it lit for 90 s longer."""
    light = LoggedLight(
        subject="blue", is_zone=False, scale=1.0, holds=True, unix_s=MINUTES,
        values=np.where(MINUTES < 1890, 0.5, 0.0), expected=lambda at: np.where(at < 1800, 0.5, 0.0),
    )  # fmt: skip
    assert deviations_of(light, Limits(time_s=60), RIGHT).wrong.sum() == 1
    assert not deviations_of(light, Limits(time_s=90), RIGHT).wrong.any()
    doubtful = ClockShift(np.zeros(1), np.zeros(1), 0.0, doubt_s=30.0)
    assert not deviations_of(light, Limits(time_s=60), doubtful).wrong.any()


def test_how_long_a_record_stands() -> None:
    instants = np.array([0.0, 60.0, 120.0, 1000.0])
    assert seconds_of(instants, 600.0, holds=True).tolist() == [60, 60, 600, 60]
    assert seconds_of(instants, 600.0, holds=False).tolist() == [60, 60, 330, 330]
    assert seconds_of(instants[:1], 600.0, holds=True).tolist() == [600]


def test_readings_between_records_of_a_player_stand_beside_them() -> None:
    """A record stands for all of the time after it, a reading for half of the time between two readings."""
    instants = 60.0 * np.arange(5)
    holds = np.array([True, False, False, True, True])
    assert seconds_of(instants, 600.0, holds=holds).tolist() == [60, 30, 60, 90, 60]


def test_only_readings_have_noise_and_slips() -> None:
    """One record in ten is 5 % off: each of a player counts, two of a meter may be slips."""
    holds = np.arange(60) < 30
    values = np.where(np.isin(np.arange(60), (10, 20, 40)), 0.55, 0.5)
    light = LoggedLight(
        subject="blue", is_zone=False, scale=1.0, holds=holds, unix_s=MINUTES, values=values,
        expected=lambda at: np.full(at.shape, 0.5),
    )  # fmt: skip
    found = deviations_of(light, Limits(), RIGHT)
    assert np.flatnonzero(found.wrong).tolist() == [10, 20]
    assert np.flatnonzero(found.brief).tolist() == [40]
    ragged = replace(light, values=0.5 + 0.05 * (-1.0) ** np.arange(60))
    noise = deviations_of(ragged, Limits(), RIGHT).noise
    # steps of 10 % between readings, of which all are alike: 1.4826 × 0.1 ÷ √2
    assert noise.tolist() == [0.0] * 30 + [pytest.approx(0.10484, abs=1e-5)] * 30
