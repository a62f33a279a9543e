"""What is known of one device."""

from __future__ import annotations

import pytest

from photoperiod.board.config import RelayConfig, RelayKind
from photoperiod.board.device_status import DeviceStatus
from photoperiod.board.devices.base import NoRelay
from photoperiod.board.devices.mqtt import MqttRelay
from tests.board.bench import FakeBroker


@pytest.mark.parametrize(
    ("given", "found", "difference"),
    [
        (True, True, ""),
        (False, True, "is closed, and was opened"),
        (True, False, "is open, and was closed"),
        (3277, 3277, ""),
        (3277, 0, "holds code 0, and 3277 was written"),
    ],
)
def test_what_it_holds_is_said_beside_what_it_was_given(
    given: int | bool, found: int | bool, difference: str
) -> None:
    status = DeviceStatus(NoRelay())
    assert status.compare((given,), found, 7.0) is (difference == "")
    assert (status.holds, status.difference) == (found, difference)


def test_a_difference_is_remembered_when_it_is_over() -> None:
    status = DeviceStatus(NoRelay())
    status.compare((False,), True, 7.0)
    status.compare((False,), False, 17.0)
    assert status.difference == ""
    assert (status.differed, status.differed_boot_s) == ("is closed, and was opened", 7.0)


def test_a_topic_is_remote() -> None:
    relay = MqttRelay(RelayConfig(kind=RelayKind.MQTT, topic="t"), FakeBroker())
    assert DeviceStatus(relay).is_remote and not DeviceStatus(NoRelay()).is_remote
