"""Tables are handed out by a real broker, or an error says why not."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.config import BrokerConfig
from photoperiod.board.publish import publish
from photoperiod.errors import OutsideWorldError
from tests.board.mosquitto import Mosquitto, listening, running_broker
from tests.board.process import until


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


def config(port: int) -> BrokerConfig:
    return BrokerConfig(host="127.0.0.1", port=port, topic="tables")


def test_all_tables_are_retained(broker: Mosquitto) -> None:
    publish(config(broker.port), {"tables/one": b"first", "tables/two": b"second"})
    with listening(broker.port) as listener:
        until(lambda: len(listener.last) == 2, "the tables")
        assert listener.last == {"tables/one": "first", "tables/two": "second"}


def test_a_broker_that_refuses_is_named(broker: Mosquitto) -> None:
    broker.stop()
    broker.config.write_text(f"listener {broker.port} 127.0.0.1\nallow_anonymous false\n")
    broker.start()
    with pytest.raises(
        OutsideWorldError, match=f"127.0.0.1:{broker.port} refuses: not authorized"
    ) as caught:
        publish(config(broker.port), {"tables/one": b"first"})
    assert caught.value.code == "PHO508"


def test_a_broker_that_cannot_be_reached() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    with pytest.raises(OutsideWorldError, match="can't be reached: connection refused") as caught:
        publish(config(port), {"tables/one": b"first"})
    assert caught.value.code == "PHO508"


def test_a_broker_that_does_not_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes the connection and says nothing."""
    monkeypatch.setattr("photoperiod.board.publish.ANSWER_S", 0.3)
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        with pytest.raises(OutsideWorldError, match="does not answer"):
            publish(config(int(silent.getsockname()[1])), {"tables/one": b"first"})


def test_a_table_that_is_too_large_is_refused_before_any_is_sent(broker: Mosquitto) -> None:
    most = b"x" * 2**20
    with pytest.raises(OutsideWorldError, match="larger than 1,048,576 bytes") as caught:
        publish(config(broker.port), {"tables/one": b"first", "tables/two": most + b"x"})
    assert caught.value.code == "PHO505"
    with listening(broker.port) as listener:
        assert listener.has_subscribed.wait(10)
        publish(config(broker.port), {"tables/most": most})
        until(lambda: "tables/most" in listener.last, "the largest table")
        assert list(listener.last) == ["tables/most"]


def test_a_topic_that_may_not_be_written_is_named(broker: Mosquitto, tmp_path: Path) -> None:
    rights = tmp_path / "rights"
    rights.write_text("topic read #\n")
    broker.stop()
    broker.config.write_text(
        f"listener {broker.port} 127.0.0.1\nallow_anonymous true\nuser root\nacl_file {rights}\n"
    )
    broker.start()
    with pytest.raises(OutsideWorldError, match="did not take 'tables/one': not authorized"):
        publish(config(broker.port), {"tables/one": b"first"})


def test_a_table_that_is_not_taken_is_named(
    broker: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A limit of the broker: it closes the connection at a message that is too large."""
    broker.stop()
    text = f"listener {broker.port} 127.0.0.1\nallow_anonymous true\nmax_packet_size 200\n"
    broker.config.write_text(text)
    broker.start()
    monkeypatch.setattr("photoperiod.board.publish.ANSWER_S", 1.0)
    with pytest.raises(OutsideWorldError, match="did not take 'tables/large'"):
        publish(config(broker.port), {"tables/small": b"x", "tables/large": b"x" * 1000})
