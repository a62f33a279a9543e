"""Levels and relays as messages."""

from __future__ import annotations

import json

import pytest

from photoperiod.board.config import OutputConfig, OutputKind, RelayConfig, RelayKind
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.mqtt import MqttOutput, MqttRelay
from photoperiod.board.mqtt import NotDelivered
from tests.board.bench import FakeBroker
from tests.board.devices.settings import NOMINAL, setting


def test_a_level_goes_to_its_topic_with_the_relay() -> None:
    broker = FakeBroker()
    output = MqttOutput(OutputConfig(kind=OutputKind.MQTT, topic="bench/blue/level"), broker)
    assert output.open(NOMINAL) is None  # nobody knows what the listener puts out
    output.write(setting(2048, relay=False))
    ((topic, text),) = broker.said
    assert topic == "bench/blue/level" and output.name == "topic bench/blue/level"
    assert json.loads(text)["converter_code"] == 2048 and json.loads(text)["relay"] == "off"
    assert output.carries_relay


def test_a_relay_gets_its_words() -> None:
    broker = FakeBroker()
    config = RelayConfig(kind=RelayKind.MQTT, topic="switch/3", closed="ON", open="OFF")
    relay = MqttRelay(config, broker)
    assert relay.open() is None and relay.is_wired
    relay.write(True)
    relay.write(False)
    assert broker.said == [("switch/3", "ON"), ("switch/3", "OFF")]


def test_a_broker_that_is_away_is_not_hidden() -> None:
    broker = FakeBroker()
    broker.leave()
    output = MqttOutput(OutputConfig(kind=OutputKind.MQTT, topic="t"), broker)
    output.read_back()  # the player watches the connection, not the device
    with pytest.raises(NotDelivered):
        output.write(setting(1))
    assert broker.said == []


def test_a_refusal_is_known_without_another_message() -> None:
    broker = FakeBroker()
    output = MqttOutput(OutputConfig(kind=OutputKind.MQTT, topic="t"), broker)
    output.read_back()
    broker.refusals["t"] = "not authorized"
    with pytest.raises(DeviceFault, match="the broker refuses it: not authorized"):
        output.read_back()
    output.open(NOMINAL)
    output.read_back()  # it has to write before it knows whether the next message is refused, too
    output.write(setting(2048, relay=False))
    with pytest.raises(DeviceFault, match="the broker refuses it: not authorized"):
        output.read_back()
