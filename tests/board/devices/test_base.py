"""What a setting looks like, and a relay that does not exist."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from photoperiod.board.devices.base import NoRelay, Setting
from photoperiod.player.outputs import OutputState

STATE = OutputState(
    count=33, level_percent=33.333333, volts=3.3333333, code=1365, relay=False, light=0.1111
)


@pytest.mark.parametrize(
    ("closed", "word", "short"), [(True, "closed", "on"), (False, "open", "off")]
)
def test_a_setting_as_a_line_and_as_json(closed: bool, word: str, short: str) -> None:
    setting = Setting("blue", "2027-03-02T12:00:00Z", replace(STATE, relay=closed))
    assert setting.as_line() == (
        "2027-03-02T12:00:00Z blue count=33 code=1365 volts=3.3333 level_percent=33.33"
        f" relay={word}"
    )
    assert json.loads(setting.as_json()) == {
        "count": 33,
        "converter_code": 1365,
        "volts": 3.3333,
        "level_percent": 33.3333,
        "relay": short,
    }


def test_a_relay_that_does_not_exist_counts_as_closed_and_can_not_open() -> None:
    relay = NoRelay()
    assert relay.open() is True and relay.is_wired is False
    relay.write(False)
    assert relay.open() is True
