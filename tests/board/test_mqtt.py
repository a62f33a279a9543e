"""The connection to a real broker."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.config import BrokerConfig
from photoperiod.board.events import PlayerState
from photoperiod.board.mqtt import NotDelivered, PahoBroker
from tests.board.mosquitto import Mosquitto, listening, running_broker
from tests.board.process import until


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


@pytest.fixture
def link(broker: Mosquitto, monkeypatch: pytest.MonkeyPatch) -> Iterator[PahoBroker]:
    config = BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench", table_topic="tables")
    made = PahoBroker(config)
    yield made
    made.close()


def test_what_is_published_stays_for_those_who_come_later(
    broker: Mosquitto, link: PahoBroker
) -> None:
    until(lambda: link.is_connected, "the connection")
    link.publish("bench/blue/level", "7")
    link.publish_state(PlayerState.HELD, ["one alarm"])
    assert not link.is_taken("bench/white/level")
    until(lambda: all(map(link.is_taken, link._last)), "the acknowledgement")
    with listening(broker.port) as listener:
        until(lambda: len(listener.last) == 3, "the retained messages")
        assert listener.last["bench/blue/level"] == "7"
        assert json.loads(listener.last["bench/player"]) == {"state": "held"}
        assert json.loads(listener.last["bench/alarms"]) == ["one alarm"]


def test_of_the_tables_that_came_the_newest_is_taken_once(
    broker: Mosquitto, link: PahoBroker
) -> None:
    until(lambda: link.is_connected, "the connection")
    assert link.take_offered_table() is None
    with listening(broker.port) as listener:
        for text in ("first", "second"):
            listener.client.publish("tables", text, qos=1)
        until(lambda: list(link._offered) == [b"second"], "the table")
    assert link.take_offered_table() == b"second"
    assert link.take_offered_table() is None


def test_a_broker_that_dies_takes_nothing(broker: Mosquitto, link: PahoBroker) -> None:
    until(lambda: link.connections == 1, "the connection")
    broker.stop()
    until(lambda: not link.is_connected, "the loss")
    with pytest.raises(NotDelivered, match=r"the broker 127\.0\.0\.1 is away"):
        link.publish("bench/blue/level", "7")
    link.publish_state(PlayerState.RUNNING, [])  # nobody listens, and nothing is raised
    broker.start()
    until(lambda: link.connections == 2 and link.is_connected, "the second connection")


def test_a_refusal_is_kept_until_a_connection(broker: Mosquitto, tmp_path: Path) -> None:
    broker.stop()
    broker.config.write_text(f"listener {broker.port} 127.0.0.1\nallow_anonymous false\n")
    broker.start()
    link = PahoBroker(BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench"))
    try:
        until(lambda: link.refusal, "the refusal")
        assert link.refusal == "not authorized" and link.connections == 0
    finally:
        link.close()
