from __future__ import annotations

import json

from photoperiod.formats.tubes_json import render
from photoperiod.source.json_schema import validate
from photoperiod.upkeep.years import tube_years
from tests.upkeep.bench import program

FADE = ", fitted: 2027-01-01, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"


def test_it_keeps_its_schema() -> None:
    p = program(
        "2027-01-01", "2027-12-31", a=FADE + ", replace_after_hours: 900", light=90,
        hold="    hold_light: {dose_within_percent: 3}\n",
    )  # fmt: skip
    found = tube_years(p)
    data = json.loads(render(found.program, found.tubes, found.policies))
    faults, _ = validate(data, "tubes")
    assert faults == []
    (tube,) = data["tubes"]
    assert (tube["first_due"], tube["first_due_by"]) == ("2027-04-10", "hours")
    assert data["held"]["blue"]["dose_within_percent"] == 3
    by_light = data["policies"][-1]
    assert by_light["policy"] == "by-light" and set(by_light) == {"policy", "not_told_because"}
    assert render(found.program, found.tubes, found.policies) == render(
        found.program, found.tubes, found.policies
    )
