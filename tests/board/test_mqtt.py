"""The connection to a real broker."""

from __future__ import annotations

import json
import signal
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from photoperiod.board.config import BrokerConfig
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.events import PlayerState
from photoperiod.board.mqtt import NotDelivered, PahoBroker
from photoperiod.board.mqtt_login import BESIDE_TABLE_BYTES, MAX_TABLE_BYTES
from tests.board.mosquitto import Line, Mosquitto, listening, running_broker
from tests.board.process import until


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.board.mqtt.BACKOFF_S", (0.05, 0.2))


@pytest.fixture
def link(broker: Mosquitto) -> Iterator[PahoBroker]:
    config = BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench", table_topic="tables")
    made = PahoBroker(config)
    yield made
    made.close()


@pytest.fixture
def line(broker: Mosquitto) -> Iterator[Line]:
    made = Line(broker.port)
    yield made
    made.close()


@pytest.fixture
def far_link(line: Line) -> Iterator[PahoBroker]:
    """The link through a line that can freeze and break."""
    made = PahoBroker(BrokerConfig(host="127.0.0.1", port=line.port, topic="bench"))
    until(lambda: made.is_connected, "the connection")
    yield made
    made.close()


def set_lamp(link: PahoBroker, level: int) -> None:
    """Set a lamp as a player does: a level that rises goes before its relay."""
    words = [("level", str(level)), ("relay", "on" if level else "off")]
    for part, text in words if level else reversed(words):
        link.publish(f"bench/blue/{part}", text, closes=bool(level) if part == "relay" else None)


def test_what_is_published_stays_for_those_who_come_later(
    broker: Mosquitto, link: PahoBroker
) -> None:
    until(lambda: link.is_connected, "the connection")
    link.publish("bench/blue/level", "7")
    link.publish_state(PlayerState.HELD, ["one alarm"])
    until(lambda: link.is_taken("bench/alarms"), "the acknowledgement")
    assert link.is_taken("bench/blue/level") and not link.is_taken("bench/violet/level")
    with listening(broker.port) as listener:
        until(lambda: len(listener.last) == 3, "the retained messages")
        assert listener.last["bench/blue/level"] == "7"
        assert json.loads(listener.last["bench/player"]) == {"state": "held"}
        assert json.loads(listener.last["bench/alarms"]) == ["one alarm"]
    link.close()
    assert link.is_taken("bench/blue/level")  # a player that has stopped says so


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


def test_a_table_that_was_replaced_is_not_taken_from_the_store_of_a_broker(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """A broker that is killed forgets what it did not save, and hands out an older table."""
    saved = tmp_path / "mosquitto.db"
    broker.stop()
    with broker.config.open("a") as config:
        config.write(f"user root\npersistence true\npersistence_location {tmp_path}/\n")
    text = broker.config.read_text().replace("persistence false\n", "")
    broker.config.write_text(text)
    broker.start()
    assert broker.process is not None
    link = PahoBroker(
        BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench", table_topic="tables")
    )

    def publish(text: str) -> None:
        with listening(broker.port, "nothing") as keeper:
            keeper.client.publish("tables", text, qos=1, retain=True).wait_for_publish(10)
        until(lambda: bool(link._offered), "the table")
        assert link.take_offered_table() == text.encode()

    try:
        until(lambda: link.is_connected, "the connection")
        publish("first")
        broker.process.send_signal(signal.SIGUSR1)
        until(saved.exists, "the store")
        publish("second")
        broker.stop()
        broker.start()
        until(lambda: link.has_older_table, "the older table")
        assert link.take_offered_table() is None
        publish("first")  # now somebody wants it, and it is the newest
        assert not link.has_older_table
        broker.process.send_signal(signal.SIGUSR1)
        before, written = link.connections, saved.stat().st_mtime_ns
        until(lambda: saved.stat().st_mtime_ns > written, "the store")
        broker.stop()
        broker.start()
        until(lambda: link.connections > before and bool(link._offered), "the same table")
        assert link.take_offered_table() == b"first" and not link.has_older_table
    finally:
        link.close()


def test_a_broker_that_dies_takes_nothing(broker: Mosquitto, link: PahoBroker) -> None:
    until(lambda: link.connections == 1, "the connection")
    broker.stop()
    until(lambda: not link.is_connected, "the loss")
    with pytest.raises(NotDelivered, match=r"the broker 127\.0\.0\.1 is away"):
        link.publish("bench/blue/level", "7")
    link.publish_state(PlayerState.RUNNING, [])  # nobody listens, and nothing is raised
    broker.start()
    until(lambda: link.connections == 2 and link.is_connected, "the second connection")


def test_another_player_on_the_topic_is_heard_as_long_as_its_words_are_kept(
    broker: Mosquitto, link: PahoBroker
) -> None:
    until(lambda: link.is_connected, "the connection")
    for state in (PlayerState.RUNNING, PlayerState.HELD):
        link.publish_state(state, [])
        until(lambda: link.is_taken("bench/player"), "the state")
    broker.stop()  # its own last words come back from the store, or as its will
    broker.start()
    until(lambda: link.connections == 2 and link.is_connected, "the second connection")
    link.publish_state(PlayerState.RUNNING, [])
    until(lambda: link.is_taken("bench/player"), "the state")
    other = PahoBroker(BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench", expire_s=1))
    try:
        until(lambda: other.is_connected, "the other one")
        other.publish_state(PlayerState.STOPPED, [])
        until(lambda: other.is_taken("bench/player"), "its state")
        time.sleep(0.1)
        assert not link.hears_another and not other.hears_another
        other.publish_state(PlayerState.RUNNING, [])
        until(lambda: link.hears_another, "the other one is heard")
        assert not other.hears_another
        link.publish_state(PlayerState.SAFE, [])
        until(lambda: other.hears_another, "the first one is heard")
        until(lambda: not other.hears_another, "its words are too old")
    finally:
        other.close()


def test_a_late_will_does_not_stay_as_the_state_of_one_that_lives(
    broker: Mosquitto, link: PahoBroker
) -> None:
    """After a power cut the broker misses the old connection once the new one has said what it does."""
    until(lambda: link.is_connected, "the connection")
    with listening(broker.port, "bench/player") as listener:
        link.publish_state(PlayerState.RUNNING, [])
        until(lambda: link.is_taken("bench/player"), "the state")
        listener.client.publish("bench/player", '{"state": "gone"}', qos=1, retain=True)
        until(lambda: any("gone" in text for _, text in listener.all), "the will")
        until(lambda: "running" in listener.last["bench/player"], "the state again")
        assert not link.hears_another


def test_where_nobody_was_met_is_kept_until_a_connection(broker: Mosquitto) -> None:
    broker.stop()
    link = PahoBroker(BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench"))
    try:
        until(lambda: link.unreached, "the attempt")
        assert link.unreached == f"127.0.0.1:{broker.port}: connection refused"
        broker.start()
        until(lambda: link.connections == 1, "the connection")
        assert link.unreached == ""
    finally:
        link.close()


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


def test_a_line_that_stalls_lets_the_newest_values_through_alone(
    broker: Mosquitto, line: Line, far_link: PahoBroker
) -> None:
    with listening(broker.port, "bench/blue/#") as listener:
        set_lamp(far_link, 1)
        until(lambda: listener.last.get("bench/blue/relay") == "on", "the lamp")
        line.freeze()
        for level in range(2, 902):  # a day goes by
            set_lamp(far_link, level)
        set_lamp(far_link, 0)
        assert not far_link.is_taken("bench/blue/relay")
        before = len(listener.all)
        line.thaw()
        until(lambda: far_link.is_taken("bench/blue/level"), "the dark")
        until(lambda: listener.last["bench/blue/level"] == "0", "the dark at the listener")
        # One message was under way when the line froze; of all others the newest alone came.
        assert listener.all[before:] == [
            ("bench/blue/level", "2"), ("bench/blue/relay", "off"), ("bench/blue/level", "0"),
        ]  # fmt: skip


def test_what_was_under_way_when_the_line_broke_never_comes(
    broker: Mosquitto, line: Line, far_link: PahoBroker
) -> None:
    """A lamp is lit just before its line breaks; the night has come when the line is back."""
    with listening(broker.port, "bench/blue/#") as listener:
        assert listener.has_subscribed.wait(10)
        line.freeze()
        far_link.publish("bench/blue/relay", "on", closes=True)
        far_link.publish("bench/blue/level", "900")
        line.break_near()
        until(lambda: far_link.connections == 2 and far_link.is_connected, "the second connection")
        assert not far_link.is_taken("bench/blue/relay")
        set_lamp(far_link, 0)
        until(lambda: far_link.is_taken("bench/blue/level"), "the dark")
        line.deliver_old()
        listener.client.publish("bench/blue/end", "1", qos=1)
        until(lambda: "bench/blue/end" in listener.last, "the end")
        assert listener.all[:-1] == [("bench/blue/relay", "off"), ("bench/blue/level", "0")]


def test_what_is_published_expires_and_is_renewed(broker: Mosquitto) -> None:
    """The broker counts the seconds that a message has left (MQTT 5, 3.3.2.3.3), and sends them along."""
    config = BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench", expire_s=600)
    link = PahoBroker(config)
    assert link.renew_every_s == 200
    seconds: dict[str, list[int | None]] = {}

    def note(_client: object, _data: object, message: Any) -> None:
        left = getattr(message.properties, "MessageExpiryInterval", None)
        seconds.setdefault(message.topic.removeprefix("bench/"), []).append(left)

    has_subscribed = threading.Event()
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTv5)
    client.on_message, client.on_subscribe = note, lambda *_: has_subscribed.set()
    client.connect("127.0.0.1", broker.port)
    client.subscribe("bench/#")
    client.loop_start()

    def heard(times: int) -> bool:
        return len(seconds) == 4 and all(len(found) == times for found in seconds.values())

    try:
        assert has_subscribed.wait(10)
        until(lambda: link.is_connected, "the connection")
        set_lamp(link, 900)
        link.publish_state(PlayerState.RUNNING, [])
        until(lambda: heard(1), "all topics")
        link.renew()
        until(lambda: heard(2), "all topics again")
        assert all(
            left is not None and 590 < left <= 600 for found in seconds.values() for left in found
        )
        link.publish_state(PlayerState.STOPPED, [])
        until(lambda: len(seconds["alarms"]) == 3, "the end")
    finally:
        client.disconnect()
        client.loop_stop()
        link.close()
    assert seconds["player"][2] is None and seconds["alarms"][2] is None  # this stays true
    assert len(seconds["blue/level"]) == 2


def test_a_topic_that_the_broker_refuses_is_told(broker: Mosquitto, tmp_path: Path) -> None:
    rights = tmp_path / "rights"
    rights.write_text("topic readwrite bench/blue/#\n")
    broker.stop()
    broker.config.write_text(
        f"listener {broker.port} 127.0.0.1\nallow_anonymous true\nuser root\nacl_file {rights}\n"
    )
    broker.start()
    link = PahoBroker(BrokerConfig(host="127.0.0.1", port=broker.port, topic="bench"))
    try:
        until(lambda: link.is_connected, "the connection")
        link.publish("bench/violet/level", "7")
        link.publish("bench/blue/level", "7")
        until(lambda: link.is_taken("bench/blue/level"), "the answer")
        assert not link.is_taken("bench/violet/level")
        assert link.refused("bench/violet/level") == "not authorized"
        assert link.refused("bench/blue/level") == ""
        with pytest.raises(DeviceFault, match="refuses it: not authorized"):
            link.publish("bench/violet/level", "8")
        link.publish("bench/blue/level", "8")
    finally:
        link.close()


def test_a_broker_that_never_answers_holds_nobody_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.board.mqtt.LAST_THREAD_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = int(silent.getsockname()[1])
        link = PahoBroker(BrokerConfig(host="127.0.0.1", port=port, topic="bench"))
        with silent.accept()[0]:
            began = time.monotonic()
            with pytest.raises(NotDelivered):
                link.publish("bench/blue/level", "7")
            link.close()
            assert time.monotonic() - began < 1.0


def test_a_message_larger_than_a_table_does_not_reach_the_board(
    broker: Mosquitto, link: PahoBroker
) -> None:
    until(lambda: link.is_connected, "the connection")
    with listening(broker.port, "nothing") as listener:
        for size in (MAX_TABLE_BYTES + 1, MAX_TABLE_BYTES + BESIDE_TABLE_BYTES + 1):
            listener.client.publish("tables", b"x" * size, qos=1).wait_for_publish(10)
        link.publish("bench/mark", "1")  # the answer comes behind all that was sent to the board
        until(lambda: link.is_taken("bench/mark"), "the mark")
        assert len(link.take_offered_table() or b"") == MAX_TABLE_BYTES + 1
