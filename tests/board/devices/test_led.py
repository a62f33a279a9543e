"""Relays of the kernel's class of LEDs."""

from __future__ import annotations

from photoperiod.board.config import RelayConfig, RelayKind
from photoperiod.board.devices.led import LedRelay
from tests.board.fake_kernel import FakeKernel


def test_an_led_is_all_or_nothing() -> None:
    kernel = FakeKernel().add_led(most=255)
    relay = LedRelay(RelayConfig(kind=RelayKind.LED, name="relay-blue"), kernel)
    assert relay.open() is False and kernel.writes == []
    relay.write(True)
    assert kernel.held["class/leds/relay-blue/brightness"] == "255"
    assert relay.open() is True
    relay.write(False)
    assert kernel.held["class/leds/relay-blue/brightness"] == "0"


def test_a_trigger_must_not_blink_a_relay() -> None:
    kernel = FakeKernel().add_led()
    kernel.held["class/leds/relay-blue/trigger"] = "none [heartbeat]"
    LedRelay(RelayConfig(kind=RelayKind.LED, name="relay-blue"), kernel).open()
    assert kernel.writes == [("class/leds/relay-blue/trigger", "none")]
