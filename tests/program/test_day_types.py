"""A day type: its tables, the days at full made from it, and how far seasons stray."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod.program.channel_day import Role
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.day_types import ChannelSeason, DayType, SeasonError
from photoperiod.program.season_days import Error
from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan
from tests.program.bench import HOUR, schedule


@pytest.fixture(scope="module")
def day_type() -> DayType:
    return DaySequence(schedule(), None).first()


#: Blue runs at full from 11:00 to 18:00, white stays dark.
ONE_BURNS = DayPlan(
    windows={"blue": (11 * HOUR, 18 * HOUR)}, dark=frozenset({"white"}), scale={}, reasons={}
)


def test_a_day_by_the_plan_has_the_tables_of_the_type(day_type: DayType) -> None:
    fitted = day_type.fitted(BY_PLAN)
    assert {id: each.fit for id, each in fitted.items()} == day_type.fits
    assert day_type.patterns_of(BY_PLAN) is day_type.patterns


def test_a_day_at_full_is_lit_in_its_window_alone(day_type: DayType) -> None:
    fitted = day_type.fitted(ONE_BURNS)
    blue = fitted["blue"].fit.replay
    assert blue.full[11 * HOUR : 18 * HOUR - 60].all()
    assert not blue.lit[: 11 * HOUR - 60].any() and not blue.lit[18 * HOUR + 60 :].any()
    assert not fitted["white"].fit.replay.lit.any()
    assert day_type.fitted(ONE_BURNS) is fitted  # it is fitted once
    patterns = day_type.patterns_of(ONE_BURNS)
    assert patterns["blue"].is_dark_or_full and patterns["white"].lit_s == 0


def test_a_channel_that_goes_on_by_the_plan_keeps_its_table(day_type: DayType) -> None:
    alone = DayPlan(windows={"blue": (11 * HOUR, 18 * HOUR)}, scale={}, reasons={})
    assert day_type.fitted(alone)["white"].fit is day_type.fits["white"]
    assert day_type.patterns_of(alone)["white"] is day_type.patterns["white"]


def test_roles_follow_from_the_plan(day_type: DayType) -> None:
    day = day_type.compiled(ONE_BURNS, {}, None)
    assert (day.channels["blue"].role, day.channels["white"].role) == (Role.FULL, Role.DARK)
    scale = np.ones(1440)
    scale[14 * 60] = 0.5
    gives = DayPlan(windows={"blue": (11 * HOUR, 18 * HOUR)}, scale={"white": scale}, reasons={})
    assert day_type.compiled(gives, {}, None).channels["white"].role is Role.GIVES_WAY
    by_plan = day_type.compiled(BY_PLAN, {}, None).channels["white"]
    assert by_plan.role is Role.PLAN
    # made again when asked for: the target is the one that was fitted
    assert by_plan.curve_and_target()[1] is day_type.targets["white"]


def test_targets_are_made_again_after_some_days() -> None:
    made = []
    found = schedule()
    fits = DaySequence(found, None).first().fits

    def targets() -> dict[str, object]:
        made.append(1)
        return {}

    types = [DayType(found, lambda _: {}, targets, fits) for _ in range(5)]  # type: ignore[arg-type,return-value]
    for each in (*types, types[4], types[0]):
        assert each.targets == {}
    assert len(made) == 6  # the fifth was kept, the first was not


def season(light: float, dose: float) -> ChannelSeason:
    return ChannelSeason(Error(light, dose), dt.date(2027, 3, 1), 5)


def test_the_worst_of_a_season_is_named_by_light_and_by_dose() -> None:
    found = SeasonError({"sun": season(0.02, 0.09), "moon": season(0.3, 0.01)})
    assert (found.light_of, found.light) == ("moon", 0.3)
    assert (found.dose_of, found.dose) == ("sun", 0.09)


def test_a_season_without_some_channels_has_the_rest_or_none() -> None:
    found = SeasonError({"sun": season(0.02, 0.09), "moon": season(0.3, 0.01)})
    left = found.without({"moon"})
    assert left is not None and set(left.channels) == {"sun"}
    assert found.without({"sun", "moon"}) is None
