"""The linear programme, against doses by hand."""

from __future__ import annotations

import sys
from typing import Any

import numpy as np
import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.schedule.model import Schedule
from photoperiod.solve.movers import movers_of
from photoperiod.solve.proposal import Known, Proposal, State, propose, solver, start_of
from tests.solve.test_movers import schedule

#: PPFD × h at full × this is the dose: definition of DLI.
MOL = 130 * 0.0036


def proposed(asked: Schedule, **limits: float) -> Proposal:
    movers = movers_of(asked)
    known = Known(
        brightness={},
        light={id: np.zeros(86_400) for id in asked.channels},
        bias_s={},
        night_s={"crest": 3600 * limits.get("night_h", 0.0)},
        rises={"crest": limits["rise"]} if "rise" in limits else {},
    )
    return propose(asked, movers, known, start_of(movers))


def wanting(dose: object, moves: str, *changes: tuple[str, str]) -> Schedule:
    return schedule(moves, ("dark_hours_min: 8", f"wanted_dli: {dose}"), *changes)


@pytest.fixture(autouse=True)
def _without_its_own_dose(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.solve import test_movers

    real = test_movers.changed
    monkeypatch.setattr(
        test_movers, "changed", lambda *c: real(*[e for e in c if e[1] != "wanted_dli: 4,"],
                                                ("dli: [3, 5], ", ""))
    )  # fmt: skip


def test_a_peak_by_hand() -> None:
    # ramps of an hour around 10 h: peak × 11 h × 130 × 0.0036 = 4 mol: 77.70 %
    found = proposed(wanting(4, "{peak_light_percent: [40, 95]}"))
    assert found.state.factors["blue"] * 0.8 == pytest.approx(4 / 11 / MOL, abs=1e-6)
    assert found.missed["crest"] == pytest.approx(0, abs=1e-6)


def test_a_length_by_hand() -> None:
    # 0.8 × h × 130 × 0.0036 = 4.493 mol: 12 h, an hour more than by the file: 30 min at each end
    found = proposed(wanting(round(0.8 * 12 * MOL, 6), "{day_hours: [8, 16]}"))
    assert found.state == State({"blue": 1.0}, {"blue": 30})


@pytest.mark.parametrize("watts", [False, True])
def test_light_moves_first_and_ends_only_where_it_does_not_do(watts: bool) -> None:
    """Whether energy is known or not: a bright short day would take less, but is another day."""
    change = (
        "    below_floor: nearest\n",
        "    below_floor: nearest\n    watts: {full: 54, floor: 20}\n",
    )
    moves, changes = (
        "{peak_light_percent: [40, 95], day_hours: [8, 14]}",
        (change,) if watts else (),
    )
    # peak × 11 h × 130 × 0.0036 is 4: 77.70 %
    found = proposed(wanting(4, moves, *changes)).state
    assert found.factors["blue"] * 0.8 == pytest.approx(4 / 11 / MOL, abs=1e-6)
    assert found.steps == {"blue": 0}
    # at 94.08 %, the level below 95 %, 5.5 mol take 12.49 h of peak and half ramps: 1.49 h more
    found = proposed(wanting(5.5, moves, *changes)).state
    assert found.factors["blue"] * 0.8 == pytest.approx(0.9408, abs=5e-3)
    assert found.steps["blue"] == pytest.approx((5.5 / 0.9408 / MOL - 11) * 30, abs=1)


def test_what_can_not_be_is_missed_by_the_least() -> None:
    # 0.9408 (the level below 95 %) × 11 h gives 4.844 mol
    found = proposed(wanting(7, "{peak_light_percent: [40, 95]}"))
    assert found.missed["crest"] == pytest.approx(0.9408 * 11 * MOL - 7, abs=2e-3)
    assert [each.text for each in found.rests_on if "dose" not in each.text] == [
        "the most peak light of 'blue' (95 %)"
    ]


def test_a_limit_of_light_is_kept() -> None:
    # 100 / 130 is 76.92 %, × 11 h: 3.96 mol
    asked = wanting(4.4, "{peak_light_percent: [40, 95]}", ("ppfd_max: 200", "ppfd_max: 100"))
    found = proposed(asked)
    assert found.state.factors["blue"] * 0.8 == pytest.approx(100 / 130, abs=1e-4)
    assert found.missed["crest"] == pytest.approx(100 / 130 * 11 * MOL - 4.4, abs=1e-3)
    assert "`ppfd_max` of 'crest' (100)" in [each.text for each in found.rests_on]


def test_a_rise_is_kept() -> None:
    # 1.5 µmol m⁻² s⁻¹ a minute over 60 min is 90 of 130
    found = proposed(wanting(4.4, "{peak_light_percent: [40, 95]}"), rise=1.5)
    assert found.state.factors["blue"] * 0.8 == pytest.approx(90 / 130, abs=1e-4)


def test_a_night_is_kept() -> None:
    # 11.5 h of night leave 12.5 h of day: 15 min at each end
    found = proposed(wanting(6, "{day_hours: [8, 16]}"), night_h=11.5)
    assert found.state.steps["blue"] == 15
    assert any(each.text.startswith("`dark_hours_min` of 'crest'") for each in found.rests_on)


def test_without_scipy_the_way_out_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "scipy.optimize", None)
    with pytest.raises(OutsideWorldError) as fault:
        solver()
    assert fault.value.code == "PHO514"
    assert "photoperiod[solve]" in fault.value.help


def test_another_solver_is_asked_where_one_loses_its_way(monkeypatch: pytest.MonkeyPatch) -> None:
    real = solver()
    asked: list[str] = []

    def lost(*args: Any, method: str, **more: Any) -> Any:
        asked.append(method)
        found = real(*args, method=method, **more)
        if method == "highs":  # as HiGHS ends with status 4 now and then
            found.x = None
        return found

    monkeypatch.setattr("photoperiod.solve.proposal.solver", lambda: lost)
    found = proposed(wanting(4, "{peak_light_percent: [40, 95]}"))
    assert found.state.factors["blue"] * 0.8 == pytest.approx(4 / 11 / MOL, abs=1e-6)
    assert asked[:2] == ["highs", "highs-ipm"]
