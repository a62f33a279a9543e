"""Tuning on levels: what is predicted, and what is left as it is."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.solve.movers import movers_of
from photoperiod.solve.proposal import Known, start_of
from photoperiod.solve.tuning import Tuning
from tests.solve.test_movers import schedule

ASKED = schedule("{peak_light_percent: [40, 95]}")
MOVERS = movers_of(ASKED)
KNOWN = Known(
    brightness={}, light={"blue": np.zeros(86_400)}, bias_s={"blue": 0.0}, night_s={}, rises={}
)


def tuning(part: float = 1.0, within: float = 0.02) -> Tuning:
    return Tuning(ASKED, MOVERS, KNOWN, {"crest": within}, part)


def test_a_peak_is_put_on_the_nearest_level() -> None:
    # 80 % light is 89.44 % of level on a square-law ballast: 89 %, 79.2 %
    first = tuning().snapped(start_of(MOVERS))
    assert first["blue"].counts == ((89, 89),)
    assert first["blue"].steps == 0


def test_light_is_told_with_four_decimals_and_never_below_its_level() -> None:
    each = tuning()
    (peak,) = each.days(each.snapped(start_of(MOVERS)))["blue"].peaks
    level = float(MOVERS["blue"].path.burning_light[89])
    assert peak.light == round(peak.light * 100, 4) / 100
    assert 0 <= peak.light - level < 2e-6


def test_tuned_doses_are_those_of_the_days() -> None:
    # peak × 11 h × 130 × 0.0036 is to be 4: 77.7 %, between 77.4 % (88) and 79.2 % (89)
    each = tuning()
    settings = each.tuned(each.snapped(start_of(MOVERS)), lambda _: False)
    dose = each.planned_s("blue", settings["blue"]) * 130 / 1e6
    assert dose == pytest.approx(4, abs=0.02)
    (begin, end) = settings["blue"].counts[0]
    assert abs(begin - end) <= 1


def test_what_is_known_is_not_taken_again() -> None:
    each = tuning()
    first = each.tuned(each.snapped(start_of(MOVERS)), lambda _: False)
    again = each.tuned(each.snapped(start_of(MOVERS)), lambda settings: settings == first)
    assert again != first


def test_parts_of_a_count_move_less() -> None:
    each = tuning(part=0.25, within=0.004)
    settings = each.tuned(each.snapped(start_of(MOVERS)), lambda _: False)
    dose = each.planned_s("blue", settings["blue"]) * 130 / 1e6
    assert dose == pytest.approx(4, abs=0.004)
    assert any(count % 1 for count in settings["blue"].counts[0])
