"""`run`, `hold` and `release` in processes of their own, with real files, signals and a real broker."""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.state_store import StateStore
from tests.board.bench import code, table
from tests.board.mosquitto import Mosquitto, level, listening, mqtt_board, running_broker
from tests.board.process import (
    EACH_SECOND,
    PATIENCE_S,
    PROCESS_BOARD,
    BoardProcess,
    board_process,
    until,
)
from tests.conftest import Run


@pytest.fixture
def place(tmp_path: Path) -> Iterator[BoardProcess]:
    with board_process(tmp_path) as made:
        yield made


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


def test_sigterm_sets_the_safe_state_and_is_heard_among_many_others(place: BoardProcess) -> None:
    player = place.start()
    until(lambda: len(place.log()) > 1, "the log")
    assert place.output == (code(80), True)
    for _ in range(300):
        player.send_signal(signal.SIGHUP)
    assert place.end(player, signal.SIGTERM) == 0
    assert place.output == (0, False)
    assert place.events() == ["start", "stop"]


def test_sigkill_and_a_start_go_on_without_a_flash(place: BoardProcess) -> None:
    player = place.start()
    until(lambda: len(place.log()) > 1, "the log")
    place.end(player, signal.SIGKILL)
    assert place.output == (code(80), True)
    (log,) = (place.folder / "log").iterdir()
    with log.open("ab") as file:
        file.write(b"2027-03-02T00:00:00Z,blue,80,32")  # what a power failure leaves
    before = len(place.log())
    player = place.start()
    until(lambda: len(place.log()) > before, "the log")
    assert place.end(player, signal.SIGTERM) == 0
    assert b"blue,80,32\r\n" not in log.read_bytes()
    assert {record[2] for record in place.log() if record[1]} == {"80", "0"}
    assert place.events() == ["start", "start", "stop"]
    # After a stop the lamps are dark, and rise softly.
    player = place.start()
    until(lambda: place.output == (code(10), True), "the floor")


def test_a_writer_that_hangs_freezes_nothing(place: BoardProcess) -> None:
    """Its relay's process is stopped, as a driver that hangs would: the level moves, SIGTERM is obeyed."""
    player = place.start()
    until(lambda: len(place.log()) > 1, "the log")
    writer = place.writer(player, "relay of 'blue'")
    os.kill(writer, signal.SIGSTOP)
    until(lambda: "(relay relay-blue) is lost: it hangs" in place.told(), "the alarm")
    fresh = place.folder / "fresh"
    fresh.write_bytes(table((0, 70), every_seconds=1))
    fresh.replace(place.table)
    until(lambda: place.output[0] == code(70), "the new table")
    os.kill(place.writer(player, "disk"), signal.SIGSTOP)  # and the card hangs, too
    began_s = time.monotonic()
    assert place.end(player, signal.SIGTERM) == 4
    assert time.monotonic() - began_s < 5
    assert "'blue' may burn: its relay (relay relay-blue) is lost: it hangs" in place.told()
    assert place.output == (0, True)


def test_a_card_that_hangs_keeps_no_hold_from_the_lamps(place: BoardProcess) -> None:
    """What is in memory is read and written by a process of its own."""
    player = place.start()
    until(lambda: len(place.log()) > 1, "the log")
    os.kill(place.writer(player, "disk"), signal.SIGSTOP)
    run = place.folder / "run"
    StateStore(place.folder / "state", runtime=run).hold("test")
    until(lambda: place.output == (0, False), "the dark")
    began_s = time.monotonic()
    assert place.end(player, signal.SIGTERM) == 0
    assert time.monotonic() - began_s < 5
    (kept,) = run.glob("state-*")
    assert json.loads(kept.read_text())["outputs"]["blue"] == {"code": 0, "relay": False}


def test_two_players_do_not_fight(place: BoardProcess) -> None:
    StateStore(place.folder / "state").lock()  # as the first one does
    second = place.do("run", str(place.table))
    assert second.returncode == 4
    assert "error PHO509: another player uses" in second.stderr
    assert place.output == (code(80), True)


def test_hold_and_release(place: BoardProcess, run: Run) -> None:
    board = ("--board", place.folder / "board.yaml")
    player = place.start()
    exit_code, out, _ = run("hold", *board, "--why", "new tubes")
    assert exit_code == 0 and "unplug before you touch" in out
    assert out.startswith("held: the player is told to set the lamps off")
    until(lambda: place.output == (0, False), "the dark")
    assert place.end(player, signal.SIGKILL) != 0
    place.start()
    until(lambda: "held: the lamps are off" in place.told(), "the words")
    records = len(place.log())
    until(lambda: len(place.log()) > records, "the next steps")
    assert place.output == (0, False)
    assert run("release", *board)[:2] == (0, "released\n")
    until(lambda: place.output == (code(10), True), "the floor")
    assert run("release", *board)[:2] == (0, "was not held\n")


def test_a_hold_without_a_player_says_so(place: BoardProcess, run: Run) -> None:
    exit_code, out, _ = run("hold", "--board", place.folder / "board.yaml", "--why", "new tubes")
    assert exit_code == 0 and "no player runs" in out
    reason = (place.folder / "state" / "hold").read_text()
    assert reason.startswith("held since 20") and reason.endswith("Z: new tubes\n")


def test_a_hold_on_a_dead_card_says_where_it_is(place: BoardProcess, run: Run) -> None:
    (place.folder / "state").touch()  # nothing can be made below it
    board = ("--board", place.folder / "board.yaml")
    exit_code, _, err = run("hold", *board)
    assert exit_code == 0 and "which is gone when the board restarts" in err
    assert [path.name[:5] for path in (place.folder / "run").iterdir()] == ["hold-"]
    assert run("release", *board)[:2] == (0, "released\n")


def test_a_new_table_and_a_broken_one(place: BoardProcess) -> None:
    """SIGHUP makes the player read the table at once; without it that takes two steps."""
    player = place.start()
    fresh = place.folder / "fresh"
    fresh.write_bytes(table((0, 70), every_seconds=1))
    fresh.replace(place.table)
    until(lambda: place.output == (code(70), True), "the new table")
    place.table.write_bytes(EACH_SECOND[:-40])
    player.send_signal(signal.SIGHUP)
    until(lambda: "alarm: PHO505" in place.told(), "the alarm")
    assert place.output == (code(70), True)
    place.table.write_bytes(EACH_SECOND)
    player.send_signal(signal.SIGHUP)
    until(lambda: "alarm over: PHO505" in place.told(), "the end of the alarm")
    until(lambda: place.events() == ["start", "reload", "refused", "reload"], "the events")
    assert place.end(player, signal.SIGINT) == 130
    assert place.output == (0, False)


def test_a_broken_table_at_the_start(place: BoardProcess) -> None:
    place.table.write_bytes(EACH_SECOND[:-40])
    player = place.start()
    assert player.wait(PATIENCE_S) == 4
    assert "error PHO505" in place.told()
    assert place.output == (code(80), False)  # nothing says what light would be right
    StateStore(place.folder / "state").good_table.write_bytes(EACH_SECOND)  # as a player keeps it
    place.start()
    until(lambda: "the last good table goes on" in place.told(), "the copy")
    until(lambda: place.output == (code(10), True), "the floor")
    records = len(place.log())
    until(lambda: len(place.log()) > records, "the next steps")
    assert place.output == (code(10), True)


def test_a_board_file_with_a_fault_is_shown(place: BoardProcess, run: Run) -> None:
    path = place.folder / "board.yaml"
    path.write_text(PROCESS_BOARD.replace("kind: led", "kind: let"), encoding="utf-8")
    for words in (("run", str(place.table)), ("hold",), ("release",)):
        exit_code, _, err = run(*words, "--board", path)
        assert exit_code == 1
        assert f"{path}:10:19  error PHO204 not-allowed" in err
        assert "did you mean 'led'?" in err
    exit_code, _, err = run("run", "-", "--board", path)
    assert exit_code == 2 and "'-' is not a file" in err
    exit_code, _, err = run("run", place.table, "--board", place.folder / "none.yaml")
    assert exit_code == 4 and "PHO501" in err


def test_a_broker_is_told_levels_and_when_the_player_dies(
    place: BoardProcess, broker: Mosquitto
) -> None:
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: place.log(), "the log")
    with listening(broker.port) as listener:  # it comes late: what it gets was retained
        until(lambda: level(listener) == 10, "the level")
        assert listener.last["bench/blue/relay"] == "on"
        until(lambda: listener.last.get("bench/player") == '{"state": "running"}', "the state")
        assert listener.last["bench/alarms"] == "[]"
        place.end(player, signal.SIGKILL)
        until(lambda: listener.last["bench/player"] == '{"state": "gone"}', "the last will")
        assert level(listener) == 10  # lamps keep their last level
        player = place.start()
        until(lambda: listener.last["bench/player"] == '{"state": "running"}', "the state")
        place.table.write_bytes(b"{}")
        until(lambda: "PHO505" in listener.last["bench/alarms"], "the alarm")
        assert place.end(player, signal.SIGTERM) == 0
        until(lambda: listener.last["bench/player"] == '{"state": "stopped"}', "the state")
        assert level(listener) == 0 and listener.last["bench/blue/relay"] == "off"
        order = [(t, x) for t, x in listener.all if t in ("bench/blue/level", "bench/blue/relay")]
        assert order[-2][0] == "bench/blue/relay"  # opened before the level went down


def test_a_broker_that_dies_is_found_again(place: BoardProcess, broker: Mosquitto) -> None:
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: place.log(), "the log")
    broker.stop()
    until(lambda: "alarm: the broker is away" in place.told(), "the alarm")
    broker.start()  # it has forgotten everything
    until(lambda: "alarm over: the broker is away" in place.told(), "the broker")
    with listening(broker.port) as listener:
        until(lambda: level(listener) == 10, "the level")
        until(lambda: listener.last.get("bench/player") == '{"state": "running"}', "the state")
        assert place.end(player, signal.SIGTERM) == 0
    assert place.events() == ["start", "broker-lost", "broker-back", "stop"]


def test_a_broker_that_refuses_is_an_alarm(place: BoardProcess, broker: Mosquitto) -> None:
    broker.stop()
    broker.config.write_text(f"listener {broker.port} 127.0.0.1\nallow_anonymous false\n")
    broker.start()
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: "alarm: the broker is away (not authorized)" in place.told(), "the alarm")
    assert place.end(player, signal.SIGTERM) == 4  # nobody was told to go dark
    assert "'blue' may burn: its relay (topic bench/blue/relay) could not be told" in place.told()
