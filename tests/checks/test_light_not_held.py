from __future__ import annotations

from photoperiod.checks.light_not_held import light_not_held
from tests.program.test_light_hold import compiled, held

CODE = "PHO450"


def test_the_first_date_and_what_is_left_are_told() -> None:
    (finding,) = light_not_held(compiled(held(light=95), 300))
    # ln(1/0.95/0.97)/α = 1587 h: 132 days of 12 h from 2 March are over on 12 July
    assert finding.code == CODE
    assert "can't be held from 2027-07-12 on" in finding.message
    assert finding.path == ("channels", "blue", "hold_light")


def test_nothing_is_said_while_it_is_held() -> None:
    assert list(light_not_held(compiled(held(), 100))) == []
