"""Relays on pins."""

from __future__ import annotations

import pytest

from photoperiod.board.config import RelayConfig, RelayKind
from photoperiod.board.devices.base import DeviceMismatch
from photoperiod.board.devices.gpio import GpioRelay
from tests.board.bench import (
    FakeKernel,
)


@pytest.mark.parametrize("active_low", [False, True])
def test_a_pin_begins_open(active_low: bool) -> None:
    kernel = FakeKernel().add_gpio()
    relay = GpioRelay(RelayConfig(kind=RelayKind.GPIO, number=17, active_low=active_low), kernel)
    assert relay.open() is False
    value = "class/gpio/gpio17/value"
    assert kernel.held[value] == ("1" if active_low else "0")
    relay.write(True)
    assert kernel.held[value] == ("0" if active_low else "1")
    kernel.writes.clear()
    assert relay.open() is True and kernel.writes == []


def test_a_pin_that_the_kernel_turns_round_is_refused() -> None:
    kernel = FakeKernel().add_gpio()
    relay = GpioRelay(RelayConfig(kind=RelayKind.GPIO, number=17), kernel)
    relay.open()
    kernel.held["class/gpio/gpio17/active_low"] = "1"
    with pytest.raises(DeviceMismatch, match="active_low"):
        relay.open()
