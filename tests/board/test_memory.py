"""What a start knows of topics: never that one is lit which went dark, whenever its player was killed."""

from __future__ import annotations

import errno
import itertools
import json
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board.memory import RECENT_S, SAVE_IDLE_S, SAVE_S
from photoperiod.board.override import Override, as_json, override_file
from photoperiod.board.state_store import RememberedOutput, State, StateStore
from tests.board.bench import BOARD, FLOOR, HOUR, MQTT, STEADY, Bench, FakeBroker, code, table

LEVEL = "bench/blue/level"


class Killed(BaseException):
    """The process ends at once, as SIGKILL does it."""


class DeadlyBroker(FakeBroker):
    """A broker that is told something dark, and the next thing that happens is the end of the process."""

    def publish(self, topic: str, text: str, *, closes: bool | None = None) -> None:
        super().publish(topic, text, closes=closes)
        if topic == LEVEL and json.loads(text)["count"] == 0:
            raise Killed


def lit_bench(folder: Path, broker: FakeBroker, *, boot: float = 1000.0) -> Bench:
    """Return a bench whose topic has been at 80 % for long."""
    bench = Bench(folder, STEADY, MQTT, boot=boot, stop_s=100)
    bench.broker = broker
    if not (folder / "state").exists():
        bench.store.make()
        bench.store.write_state(
            State(boot_id="this start", boot_s=boot - 10, unix_s=bench.system.unix - 10,
                  is_trusted=True, outputs={"blue": RememberedOutput(code(80), True)})
        )  # fmt: skip
    return bench


def first_count(folder: Path, before: Bench, after_s: float) -> int:
    """Return the level with which a player goes on that is started so long after another one. [s]"""
    broker = FakeBroker()
    bench = lit_bench(folder, broker, boot=before.system.boot + after_s)
    bench.run()
    count: int = json.loads(next(text for topic, text in broker.said if topic == LEVEL))["count"]
    return count


def by_stop(bench: Bench) -> None:
    bench.system.at(25, lambda: signal.SIGTERM)


def by_hold(bench: Bench) -> None:
    bench.system.at(25, lambda: bench.store.hold("test"))


def by_hand(bench: Bench) -> None:
    override = Override(
        boot_id="this start", from_boot_s=1025.0, from_unix_s=bench.system.unix + 25, minutes=60,
        light_percent={"blue": 0.0},
    )  # fmt: skip
    path = override_file(bench.store.folder)
    bench.system.at(25, lambda: path.write_bytes(as_json(override)))


@pytest.mark.parametrize("goes_dark", [by_stop, by_hold, by_hand])
def test_a_player_killed_as_its_topic_goes_dark_rises_softly(
    tmp_path: Path, goes_dark: Callable[[Bench], None]
) -> None:
    bench = lit_bench(tmp_path, DeadlyBroker())
    goes_dark(bench)
    with pytest.raises(Killed):
        bench.run()
    assert bench.broker is not None and bench.broker.said[0][0] == LEVEL
    assert json.loads(bench.broker.said[0][1])["count"] == 80  # it went on from there, in one leap
    bench.store.release()
    override_file(bench.store.folder).unlink(missing_ok=True)
    assert first_count(tmp_path, bench, 20.0) == FLOOR


def test_a_state_is_kept_in_memory_though_its_folder_can_not_be_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk fails before the stop, and is there again for the next start."""
    bench = lit_bench(tmp_path, FakeBroker())

    def refuse(store: StateStore, *_: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    bench.system.at(25, lambda: monkeypatch.setattr(StateStore, "mend", refuse))
    really = type(bench.store.disk).replace

    def replace_elsewhere(disk: Any, path: Path, raw: bytes) -> None:
        if path.parent == tmp_path / "state" and bench.system.boot >= 1025:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        really(disk, path, raw)

    with monkeypatch.context() as patch:
        patch.setattr(type(bench.store.disk), "replace", replace_elsewhere)
        bench.run()
        assert any("alarm: the state folder can't be written: input" in said for said in bench.said)
    monkeypatch.undo()
    assert first_count(tmp_path, bench, 20.0) == FLOOR


def test_a_disk_that_hangs_keeps_no_lamp_of_this_board_lit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Devices of the board go dark first, then the state is written, then topics go dark."""
    text = MQTT + (
        "  white:\n    output: {kind: iio, device: 'iio:device0', channel: 0}\n"
        "    relay: {kind: led, name: relay-blue}\n"
    )
    bench = Bench(tmp_path, table((0, 80), channels=("blue", "white")), text, stop_s=2000)
    bench.light(code(80))
    order: list[str] = []
    broker = bench.broker = FakeBroker()
    bench.system.at(1995, lambda: (order.clear(), broker.said.clear(), bench.kernel.writes.clear()))
    disk = type(bench.store.disk)
    really = disk.replace

    def note(self: Any, path: Path, raw: bytes) -> None:
        if path.name == "state.json":
            dark = json.loads(raw)["outputs"]["blue"] == {"code": 0, "relay": False}
            order.append(f"{dark} {bench.relay} {len(broker.said)}")
        really(self, path, raw)

    monkeypatch.setattr(disk, "replace", note)
    bench.run()
    assert order == ["True False 0", "True False 2"]


def test_a_level_that_falls_steeply_is_written_before_it_is_sent(tmp_path: Path) -> None:
    """By hand to a tenth, and back while the player is down: it rises from there."""
    bench = lit_bench(tmp_path, FakeBroker())
    held: list[State | None] = []
    publish = FakeBroker.publish
    broker = bench.broker
    assert broker is not None

    def look(topic: str, text: str, *, closes: bool | None = None) -> None:
        if topic == LEVEL and json.loads(text)["count"] not in (80, 0):
            held.append(bench.store.read_state())
        publish(broker, topic, text, closes=closes)

    broker.publish = look  # type: ignore[method-assign]
    override = Override(
        boot_id="this start", from_boot_s=1025.0, from_unix_s=bench.system.unix + 25, minutes=60,
        light_percent={"blue": 8.0},
    )  # fmt: skip
    path = override_file(bench.store.folder)
    bench.system.at(25, lambda: path.write_bytes(as_json(override)))
    bench.run()
    assert held[0] is not None
    count = json.loads(broker.said[2][1])["count"]
    assert 10 < count < 40
    assert held[0].outputs["blue"] == RememberedOutput(code(count), True)


def test_it_is_saved_each_minute_if_something_changed_and_else_all_ten(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=3 * HOUR)
    bench.light(code(80))
    times: set[float] = set()
    for second in range(5, 3 * HOUR, 10):
        bench.system.at(second, lambda: times.add(getattr(bench.store.read_state(), "boot_s", 0)))
    bench.run()
    seen = sorted(at - bench.system.began for at in times if at)
    assert seen[0] == SAVE_S
    assert {b - a for a, b in itertools.pairwise(seen)} == {SAVE_IDLE_S}
    assert RECENT_S == 300  # docs/board.md: less than five minutes old


@pytest.mark.parametrize(
    ("boot_id", "ago_s", "count"),
    [("this start", 200, 80), ("this start", 400, FLOOR), ("another", 200, FLOOR)],
    ids=["recent", "long ago", "before the power went"],
)
def test_what_cannot_be_read_back_is_remembered_for_minutes(
    tmp_path: Path, boot_id: str, ago_s: float, count: int
) -> None:
    text = BOARD.replace('{kind: iio, device: "iio:device0", channel: 0}', "{kind: mqtt}")
    text += "broker: {host: h, topic: bench}\n"
    bench = Bench(tmp_path, STEADY, text, boot=1000.0)
    bench.kernel.held["class/leds/relay-blue/brightness"] = "255"
    bench.broker = FakeBroker()
    bench.store.make()
    bench.store.write_state(
        State(boot_id=boot_id, boot_s=1000.0 - ago_s, unix_s=bench.system.unix - ago_s,
              is_trusted=True, outputs={"blue": RememberedOutput(code(80), True)})
    )  # fmt: skip
    bench.run()
    first = json.loads(next(text for topic, text in bench.broker.said if topic.endswith("level")))
    assert first["count"] == count


def test_a_hold_is_remembered_at_once(tmp_path: Path) -> None:
    """Whoever is killed right after it must not take the lamps for lit."""
    bench = Bench(tmp_path, STEADY, MQTT, boot=1000.0)
    bench.broker = FakeBroker()
    bench.store.make()
    bench.store.write_state(
        State(boot_id="this start", boot_s=990.0, unix_s=bench.system.unix - 10, is_trusted=True,
              outputs={"blue": RememberedOutput(code(80), True)})
    )  # fmt: skip
    held: list[State | None] = []
    bench.system.at(5, lambda: bench.store.hold("test"))
    bench.system.at(15, lambda: held.append(bench.store.read_state()))
    bench.system.stop_s = 20
    bench.run()
    assert held[0] is not None and held[0].outputs["blue"] == RememberedOutput(0, False)


def test_the_state_is_written_each_minute_and_read_back(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 0), (86_399, 99), every_seconds=1), stop_s=130)
    bench.light(code(49))
    held: list[State | None] = []
    bench.system.at(65, lambda: held.append(bench.store.read_state()))
    bench.run()
    (state,) = held
    assert state is not None and state.is_trusted and state.boot_id == "this start"
    assert state.boot_s == bench.system.began + 60
    assert state.outputs["blue"].relay
    last = bench.store.read_state()
    assert last is not None and last.outputs["blue"] == RememberedOutput(0, False)
    assert replace(last, outputs={}) != replace(state, outputs={})


def test_a_state_folder_that_cannot_be_written_is_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 0), (86_399, 99), every_seconds=1), stop_s=700)
    bench.light(code(40))

    def break_it() -> None:  # a file stands in its place: it can't be made again
        (tmp_path / "state").rename(tmp_path / "gone")
        (tmp_path / "state").touch()

    def mend_it() -> None:
        (tmp_path / "state").unlink()
        (tmp_path / "gone").rename(tmp_path / "state")

    bench.system.at(5, break_it)
    bench.system.at(400, mend_it)
    bench.run()
    assert any(t.startswith("alarm: the state folder") for t in bench.said)
    assert any(t.startswith("alarm over: the state folder") for t in bench.said)
