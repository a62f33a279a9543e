"""Settings for the tests of devices."""

from __future__ import annotations

from photoperiod.board.devices.base import Setting
from photoperiod.drive.converter import Converter
from photoperiod.player.outputs import OutputState

NOMINAL = Converter.nominal(12, 10.0, 10.0)


def setting(code: int, relay: bool = True) -> Setting:
    volts = code * 10 / 4096
    return Setting(
        "blue", "2027-03-02T12:00:00Z", OutputState(80, 10 * volts, volts, code, relay, 0.5)
    )
