"""`publish`, with a real broker and a player that listens."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.board.bench import table
from tests.board.mosquitto import Mosquitto, level, listening, mqtt_board, running_broker
from tests.board.process import EACH_SECOND, BoardProcess, board_process, until
from tests.conftest import Run


@pytest.fixture
def place(tmp_path: Path) -> Iterator[BoardProcess]:
    with board_process(tmp_path) as made:
        yield made


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


def test_a_table_that_is_handed_out_is_played_and_a_broken_one_is_not(
    place: BoardProcess, broker: Mosquitto
) -> None:
    text = mqtt_board(broker.port).replace(
        "topic: bench}", "topic: bench, table_topic: tables/one}"
    )
    (place.folder / "board.yaml").write_text(text, encoding="utf-8")
    first = place.table.read_bytes()
    other = place.folder / "one.json"
    other.write_bytes(table((0, 25), (43_200, 25), every_seconds=1, soft_minutes=0))
    player = place.start()
    try:
        with listening(broker.port, "bench/#") as listener:
            until(lambda: level(listener) == 10, "the level")
            hand_out = ("--broker", f"127.0.0.1:{broker.port}", "--topic", "tables")
            done = place.publish(other, *hand_out)
            assert done.returncode == 0, done.stderr
            until(lambda: place.table.read_bytes() == other.read_bytes(), "the new table")
            until(lambda: level(listener) == 25, "the new level")
            listener.client.publish("tables/one", first[:-9], qos=1, retain=True)
            until(
                lambda: "that was handed out on tables/one'" in listener.last["bench/alarms"],
                "the alarm",
            )
            assert place.table.read_bytes() == other.read_bytes()
        other.write_bytes(first[:-9])
        done = place.publish(other, *hand_out)  # what is broken is not even sent
        assert done.returncode == 4 and "PHO505" in done.stderr
    finally:
        place.end(player, signal.SIGTERM)
    assert place.events() == ["start", "reload", "refused", "stop"]


def test_a_player_that_comes_later_gets_the_table_too(
    place: BoardProcess, broker: Mosquitto
) -> None:
    text = mqtt_board(broker.port).replace(
        "topic: bench}", "topic: bench, table_topic: tables/one}"
    )
    (place.folder / "board.yaml").write_text(text, encoding="utf-8")
    other = place.folder / "one.json"
    other.write_bytes(table((0, 25), (43_200, 25), every_seconds=1, soft_minutes=0))
    where = ("--broker", f"127.0.0.1:{broker.port}", "--topic", "tables")
    twin = place.folder / "two.json"
    twin.write_bytes(other.read_bytes())
    assert place.publish(other, twin, *where).returncode == 0  # to tables/one and tables/two
    player = place.start()
    until(lambda: place.table.read_bytes() == other.read_bytes(), "the table")
    assert place.end(player, signal.SIGTERM) == 0
    broker.stop()
    done = place.publish(other, *where)
    assert done.returncode == 4 and "PHO508" in done.stderr and "can't be reached" in done.stderr


@pytest.mark.parametrize("name", ["a#.json", "a+b.json"])
def test_file_names_that_are_no_topics(tmp_path: Path, run: Run, name: str) -> None:
    (tmp_path / name).write_bytes(EACH_SECOND)
    exit_code, _, err = run("publish", tmp_path / name, "--broker", "127.0.0.1:1", "--topic", "t")
    assert exit_code == 2 and "is no topic" in err


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--broker", "host:²", "--topic", "t"), "is not HOST"),
        (("--broker", "host:0", "--topic", "t"), "is not HOST"),
        (("--broker", ":1883", "--topic", "t"), "is not HOST"),
        (("--broker", "host", "--topic", "t/#"), "a topic is text without + and #"),
        (("--broker", "host", "--topic", "$SYS"), "a topic is text without + and #"),
    ],
)
def test_options_that_make_no_sense(
    tmp_path: Path, run: Run, options: tuple[str, ...], words: str
) -> None:
    (tmp_path / "table.json").write_bytes(EACH_SECOND)
    exit_code, _, err = run("publish", tmp_path / "table.json", *options)
    assert exit_code == 2 and words in err


def test_two_files_of_one_name_are_refused(tmp_path: Path, run: Run) -> None:
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "one.json").write_bytes(EACH_SECOND)
    exit_code, _, err = run(
        "publish", tmp_path / "a/one.json", tmp_path / "b/one.json", "--broker", "h", "--topic", "t"
    )
    assert exit_code == 2 and "under one name" in err


def test_a_broker_that_has_no_address(tmp_path: Path, run: Run) -> None:
    (tmp_path / "one.json").write_bytes(EACH_SECOND)
    exit_code, _, err = run("publish", tmp_path / "one.json", "--broker", "a..b", "--topic", "t")
    assert exit_code == 4 and "PHO508" in err and "can't be reached" in err
