from __future__ import annotations

import pytest

from photoperiod.formats.costs_json import costs_data
from photoperiod.formats.summary_json import summary_data
from photoperiod.source.json_schema import validate
from tests.upkeep.bench import program

FLAT = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.109}}\n"


def test_numbers_by_hand_and_by_the_schema() -> None:
    p = program("2027-01-01", "2027-12-31", top=FLAT, a=", fitted: 2027-05-02, price: 14.5")
    data = costs_data(p)
    # 50 W for 9 h a day: 164.25 kWh and 17.90 a year at 0.109
    assert (data["kwh"], data["power_cost"]) == (164.25, pytest.approx(164.25 * 0.109, abs=6e-5))
    assert data["months"][4]["tube_cost"] == data["years"][0]["tube_cost"] == 14.5
    assert data["channels"]["blue"]["kwh_per_day"] == 0.45
    faults, _ = validate(summary_data(p, []), "summary")
    assert faults == []


def test_without_costs_there_is_energy_and_no_money() -> None:
    data = costs_data(program())
    assert (data["currency"], data["kwh"], data["power_cost"], data["tube_cost"]) == (
        None,
        0.45,
        None,
        None,
    )
    faults, _ = validate(summary_data(program(), []), "summary")
    assert faults == []
