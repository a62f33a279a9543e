"""Bounds that are taken away, and written so that they no longer stand against a dose."""

from __future__ import annotations

import re

import pytest

from photoperiod.schedule.model import Schedule
from photoperiod.solve.bounds import Bound
from photoperiod.solve.trial import Trial, Trials
from photoperiod.solve.ways_out import without, written
from tests.solve.test_movers import schedule

MOVES = "{peak_light_percent: [40, 60], day_hours: [9, 11]}"


def asked() -> Schedule:
    return schedule(MOVES)


def trial_of(each: Schedule) -> Trial:
    """Blue by the file: 80 % for 12 h, 104 µmol m⁻² s⁻¹ in the crest."""
    return Trials(each, {}).of({"blue": each.channels["blue"].day})  # type: ignore[dict-item]


def bound(*path: str) -> Bound:
    return Bound("", path)


@pytest.mark.parametrize(
    ("path", "text"),
    [
        # 104 µmol m⁻² s⁻¹ is 80 %; the level of 89 or 90 % gives 79.2 to 81 %
        (
            ("zones", "crest", "ppfd_max"),
            "`ppfd_max: 10[3-6]` in zone 'crest', if the animals there bear it",
        ),
        (("zones", "crest", "dark_hours_min"), "`dark_hours_min: 12` in zone 'crest', if .*"),
        # 0.8 × 11 h × 130 × 0.0036 = 4.12
        (("zones", "crest", "wanted_dli"), r"`wanted_dli: \[4\.0\d, 4\.1\d?\]` in zone 'crest'"),
        (
            ("channels", "blue", "may_move", "day_hours", "most"),
            r"`day_hours: \[9, 12\]` in `may_move` of 'blue'",
        ),
        (
            ("channels", "blue", "may_move", "peak_light_percent", "most"),
            r"`peak_light_percent: \[40, 85\]` in `may_move` of 'blue'",
        ),
    ],
)
def test_a_bound_is_written_so_that_a_trial_keeps_it(path: tuple[str, ...], text: str) -> None:
    each = asked()
    way = written(each, bound(*path), trial_of(each))
    assert way is not None
    assert re.fullmatch(text, way.text), way.text
    assert way.schedule != each


def test_a_bound_is_taken_away() -> None:
    each = asked()
    zone = without(each, bound("zones", "crest", "ppfd_max"))
    assert zone is not None
    assert zone.zones["crest"].ppfd_max is None
    most = without(each, bound("channels", "blue", "may_move", "peak_light_percent", "most"))
    assert most is not None
    assert most.channels["blue"].may_move.peak_light == (0.4, 1.0)  # type: ignore[union-attr]
    least = without(each, bound("channels", "blue", "may_move", "day_hours", "least"))
    assert least is not None
    assert least.channels["blue"].may_move.day_s == (0, 11 * 3600)  # type: ignore[union-attr]


def test_a_channel_at_full_has_no_way_out() -> None:
    each = asked()
    at = bound("channels", "blue", "may_move", "peak_light_percent", "full")
    assert without(each, at) is None
    assert without(each, bound("controller", "clock")) is None
