"""What policies do: tubes, prices, and the light of a zone, by hand."""

from __future__ import annotations

import math

import pytest

from photoperiod.program.day_sequence import DaySequence
from photoperiod.upkeep.comparison import PolicyOutcome, compared
from photoperiod.upkeep.policies import NO_LIGHT, Policy
from tests.upkeep.test_policies import NINE, four

#: e^(−αt), 3 % in 1,000 h
FADE = ", depreciation: {kind: exponential, loss_percent_per_1000_h: 3}"
ALPHA_PER_H = -math.log(0.97) / 1000


def outcomes(keys: str, years: int = 5) -> dict[Policy, PolicyOutcome | str]:
    program = four(keys, years)
    sequence = DaySequence(program.schedule, program.span)
    found: dict[Policy, PolicyOutcome | str] = {}
    for each in compared(program, sequence):
        if isinstance(each, tuple):
            found[each[0]] = each[1]
        else:
            found[each.policy] = each
    return found


def of(found: dict[Policy, PolicyOutcome | str], policy: Policy) -> PolicyOutcome:
    each = found[policy]
    assert isinstance(each, PolicyOutcome)
    return each


def test_light_swings_less_by_halves() -> None:
    found = outcomes(NINE + FADE)
    assert found[Policy.LIGHT] == NO_LIGHT
    at_once, halves, written = (
        of(found, p) for p in (Policy.AT_ONCE, Policy.HALVES, Policy.AS_WRITTEN)
    )
    assert (at_once.tubes_used, at_once.fitting_dates) == (28, 7)
    assert at_once.tube_cost == 7 * 4 * 10  # the first set is fitted on the first date
    # All four fade for 276 days at most, 9 h a day; the brightest date is one with new tubes
    swing = at_once.zones["crest"]
    longest = max(276, 274, 273)
    assert swing.dli_swing == pytest.approx(math.exp(ALPHA_PER_H * 9 * longest) - 1, rel=0.02)
    assert swing.rise == pytest.approx(swing.dli_swing, rel=0.02)
    # Half of them are new at a time: the rise is about half as large
    assert halves.zones["crest"].rise < 0.6 * swing.rise
    assert written.tubes_fitted == 4 and written.loads == 1
    assert written.zones["crest"].dli_swing == pytest.approx(
        math.exp(ALPHA_PER_H * 9 * (5 * 365 + 1)) - 1, rel=1e-3
    )


def test_one_channel_a_week_is_the_same_with_one_channel() -> None:
    found = outcomes(NINE, years=2)
    halves, apart = of(found, Policy.HALVES), of(found, Policy.HALVES_APART)
    assert (halves.loads, halves.tubes_used) == (apart.loads, apart.tubes_used)


def test_without_a_tariff_there_is_no_whole_cost() -> None:
    each = of(outcomes(NINE, years=1), Policy.AT_ONCE)
    assert (each.tube_cost, each.power_cost, each.cost) == (80, None, None)


@pytest.mark.parametrize(("price", "group_pays"), [(43.0, True), (45.0, False)])
def test_group_against_spot_relamping(price: float, group_pays: bool) -> None:
    # A lamp takes some 30 min by itself and some 3 min in a group (Source, OMA-23, as quoted): 27 min for the
    # visit and 3 for the lamp. At 20 an hour that is 9 and 1.
    # Four tubes of 1,000 to 1,900 h last 2,000 h at 9 h a day. In two years they are due after 1,000,
    # 700, 400 and 100 h, and every 2,000 h: 14 tubes on 14 dates. All at once they are 16 on 4 dates.
    # 16 L + 4 × 9 + 16 is less than 14 L + 14 × 9 + 14 while L is below 44.
    ages = (1000, 1300, 1600, 1900)
    keys = tuple(f", lit_hours: {h}, replace_after_hours: 2000, price: {price}" for h in ages)
    costs = "currency: EUR, labour: {each_date: 9, each_tube: 1}, tariff: {kind: flat, per_kwh: 0}"
    program = four(keys, years=2, costs=costs)
    sequence = DaySequence(program.schedule, program.span)
    found = {p.policy: p for p in compared(program, sequence) if isinstance(p, PolicyOutcome)}
    spot, group = found[Policy.HOURS], found[Policy.AT_ONCE]
    assert (spot.tubes_fitted, spot.fitting_dates) == (14, 14)
    assert (group.tubes_fitted, group.fitting_dates) == (16, 4)
    assert spot.cost == pytest.approx(14 * price + 14 * 9 + 14)
    assert group.cost == pytest.approx(16 * price + 4 * 9 + 16)
    assert (group.cost < spot.cost) is group_pays
