"""Channels that share tables: what they are compared by, and that it goes whole to another process."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.day_samples import DaySamples
from photoperiod.program.season_groups import SeasonGroup
from tests.program.bench import WORKED, changed, scheduled

FIRST = dt.date(2027, 3, 2)


def group(text: str, *ids: str) -> SeasonGroup:
    rows = [np.zeros(1440, dtype=np.float32)] * 2
    return SeasonGroup(
        schedule=scheduled(text),
        first=FIRST,
        samples={id: DaySamples(rows) for id in ids},
        tolerance_s=60,
        breaks=frozenset({1}),
        light_error=0.05,
        dose_error=0.05,
        is_fast=False,
    )


def test_the_targets_of_a_day_are_those_of_its_channels() -> None:
    found = group(WORKED, "blue")
    compared = found.compared(DayCurves(found.schedule))
    assert compared.days == 2 and compared.breaks == {1} and compared.tolerance_s == 60
    for day in range(2):
        targets = compared.targets[day]
        assert set(targets) == {"blue"}
    assert set(compared.fit(0, 0)) == {"blue"}


def test_where_all_channels_are_fitted_together_none_lifts_a_zone_over_its_limit() -> None:
    # 80.5 % of 130 is 104.65 µmol m⁻² s⁻¹, below the limit. The nearest level gives 80.98 % or 105.27, one
    # level less 79.19 % or 102.95. What else lights the zone is not known where blue is fitted apart.
    plan = (("light_percent: 80", "light_percent: 80.5"), ("dark_hours_min: 8", "ppfd_max: 105"))
    text = changed(*plan)
    white = text[text.index("  blue:") :].replace("blue", "white").replace("130", "0.1")
    for found, peak in ((group(text, "blue"), 0.7919), (group(text + white, "blue"), 0.8098)):
        (fit,) = found.compared(DayCurves(found.schedule)).fit(0, 0).values()
        assert float(fit.replay.light.max()) == pytest.approx(peak, abs=0.0001)
