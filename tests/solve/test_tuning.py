"""Tuning by parts of levels: what is predicted, and what is left as it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.schedule.day_plan import Ramps
from photoperiod.solve.movers import Mover, movers_of
from photoperiod.solve.proposal import Known, State, start_of
from photoperiod.solve.tuning import Tuning
from tests.solve.test_movers import schedule

ASKED = schedule("{peak_light_percent: [40, 95]}")
ENDS = schedule("{day_hours: [8, 16]}")
BOTH = schedule("{peak_light_percent: [40, 95], day_hours: [8, 16]}")
MOVERS = movers_of(ASKED)
START = start_of(MOVERS)

#: 80 % light lies between levels 89 and 90 of whole percents: square law, (level / 100)².
LEVEL_89, LEVEL_90 = 0.7921, 0.81

#: PPFD × h at full × this is the dose: definition of DLI.
MOL = 130 * 0.0036

#: A level of 12 bits is off by so much light at most: 1 of 4096 codes, twice by the square law.
CODE = 5e-4


def tuning(within: float = 0.02, movers: dict[str, Mover] | None = None) -> Tuning:
    """The last table gave just what its day gives with its peak on the nearest level: 89, for 11 hours."""
    movers = movers or MOVERS
    light = np.zeros(86_400)
    light[: 11 * 3600] = MOVERS["blue"].path.burning_light[89]
    known = Known(brightness={}, light={"blue": light}, bias_s={}, night_s={}, rises={})
    days = {id: mover.day for id, mover in movers.items()}
    of = ASKED if movers is MOVERS else ENDS
    return Tuning(of, movers, known, {"crest": within}, days)


def peak(day: Ramps) -> float:
    (only,) = day.peaks
    return only.light


def tuned_dose(each: Tuning, state: State) -> float:
    return each.light_s("blue", state) * 130 / 1e6


def test_light_is_told_with_four_decimals_and_never_below_what_was_proposed() -> None:
    state = replace(START, factors={"blue": 0.9876543211})
    light = peak(tuning().days(state)["blue"])
    assert light == round(light * 100, 4) / 100
    assert 0 <= light - 0.8 * 0.9876543211 < 2e-6


def test_a_peak_counts_as_on_the_nearest_level_or_half_way_between_two() -> None:
    each = tuning()
    near_89, between = (replace(START, factors={"blue": f}) for f in (0.7930 / 0.8, 0.8015 / 0.8))
    assert tuned_dose(each, near_89) == pytest.approx(LEVEL_89 * 11 * MOL, abs=5 * CODE)
    half = (LEVEL_89 + LEVEL_90) / 2
    assert tuned_dose(each, between) == pytest.approx(half * 11 * MOL, abs=5 * CODE)


def test_what_the_last_table_gave_beyond_its_day_is_counted() -> None:
    each = tuning()
    each.beyond_s["blue"] += 3600  # an hour at full: 0.468 mol
    assert tuned_dose(each, START) == pytest.approx(LEVEL_89 * 11 * MOL + 0.468, abs=0.05)


def test_the_peak_is_put_where_the_dose_is() -> None:
    # peak × 11 h × 130 × 0.0036 is to be 4: 77.7 %, nearest to half way between 77.44 % and 79.21 %
    each = tuning(within=0.05)
    state = each.tuned(START, START, lambda _: False)
    assert tuned_dose(each, state) == pytest.approx(4, abs=0.05)
    assert state.steps == START.steps


def test_what_is_known_is_not_taken_again_and_what_is_taken_is_near() -> None:
    each, known = tuning(), list[State]()
    for _ in range(20):
        state = each.tuned(START, START, known.__contains__)
        if state in known:
            break
        known.append(state)
    lights = sorted(0.8 * state.factors["blue"] for state in known)
    # 80 % itself, three halves of a level below it, the next one above it, and three more
    assert len(lights) == 8
    assert lights[0] >= 0.7744 - CODE
    assert lights[-1] <= 0.8281 + CODE  # level 91


def test_ends_move_only_where_light_may_not() -> None:
    assert tuning().moves_ends is False
    movers = movers_of(ENDS)
    each = tuning(movers=movers)
    assert each.moves_ends is True
    state = each.tuned(start_of(movers), start_of(movers), lambda _: False)
    assert state.factors == {"blue": 1.0}
    assert state.steps["blue"] < 0  # 80 % for 11 h are 4.12 mol


def test_of_light_that_stays_the_last_table_is_known_and_ends_alone_move() -> None:
    movers = movers_of(BOTH)
    light = np.zeros(86_400)
    light[: 11 * 3600] = LEVEL_89
    known = Known(brightness={}, light={"blue": light}, bias_s={}, night_s={}, rises={})
    days = {id: mover.day for id, mover in movers.items()}
    each = Tuning(BOTH, movers, known, {"crest": 0.01}, days, moves_ends=True, moves_light=False)
    first = start_of(movers)
    # By hand: it gave level 89 for 11 hours, and gives that again.
    assert tuned_dose(each, first) == pytest.approx(LEVEL_89 * 11 * MOL)
    state = each.tuned(first, first, lambda _: False)
    assert state.factors == first.factors
    # Each step is a minute at both ends: 4.078 − 4 mol are 12.6 minutes of level 89.
    assert state.steps["blue"] == -6
    assert tuned_dose(each, state) == pytest.approx(LEVEL_89 * (11 - 12 / 60) * MOL, abs=5 * CODE)
