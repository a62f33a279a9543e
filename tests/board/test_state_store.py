"""Log, state, hold, lock, and when a clock is trusted."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.clock_trust import Evidence, was_trusted, why_not
from photoperiod.board.run_log import HEADER, RunLog, event_record, record
from photoperiod.board.state_store import Remembered, State, StateStore
from photoperiod.errors import OutsideWorldError
from photoperiod.player.outputs import OutputState
from tests.board.bench import HOUR, MIDNIGHT, FakeWorld

GIVEN = OutputState(80, 80.0, 7.998046875, 3276, True, 0.64)


# ---- log


def lines(folder: Path, date: str = "2027-03-02") -> list[bytes]:
    return (folder / f"run-{date}.csv").read_bytes().split(b"\r\n")


def test_a_record_says_what_compare_reads(tmp_path: Path) -> None:
    log = RunLog(tmp_path)
    log.write(MIDNIGHT, 0.0, [record(MIDNIGHT, "blue", GIVEN, has_relay=True),
                              record(MIDNIGHT, "blue", GIVEN, has_relay=False),
                              event_record(MIDNIGHT, "start")])  # fmt: skip
    assert lines(tmp_path) == [
        HEADER.strip(),
        b"2027-03-02T00:00:00Z,blue,80,3276,7.998,80,64,on,",
        b"2027-03-02T00:00:00Z,blue,80,3276,7.998,80,64,,",
        b"2027-03-02T00:00:00Z,,,,,,,,start",
        b"",
    ]


def test_a_file_for_each_date_with_one_header(tmp_path: Path) -> None:
    log = RunLog(tmp_path)
    for unix_s in (MIDNIGHT - 1, MIDNIGHT, MIDNIGHT + 1):
        log.write(unix_s, 0.0, [event_record(unix_s, "start")])
    again = RunLog(tmp_path)
    again.write(MIDNIGHT + 2, 0.0, [event_record(MIDNIGHT + 2, "start")])
    assert len(lines(tmp_path, "2027-03-01")) == 3
    assert lines(tmp_path).count(HEADER.strip()) == 1 and len(lines(tmp_path)) == 5


TORN = [
    (HEADER + b"2027-03-02T00:00:00Z,blue,80,32", HEADER),
    (HEADER + b"a,b\r\n2027-03-02T00:00:00Z,blue,80,3276,7.9\r", HEADER + b"a,b\r\n"),
    (HEADER + b"\0" * 300, HEADER),
    (HEADER[:20], b""),
    (b"\0" * 50, b""),
    (b"somebody's own text", b"somebody's own text\r\n"),
]


@pytest.mark.parametrize(("found", "kept"), TORN)
def test_a_torn_record_does_not_spoil_the_next(tmp_path: Path, found: bytes, kept: bytes) -> None:
    """Half a number reads like a number, so what was torn is cut off."""
    (tmp_path / "run-2027-03-02.csv").write_bytes(found)
    RunLog(tmp_path).write(MIDNIGHT, 0.0, [event_record(MIDNIGHT, "start")])
    head = kept or HEADER
    assert (tmp_path / "run-2027-03-02.csv").read_bytes() == (
        head + b"2027-03-02T00:00:00Z,,,,,,,,start\r\n"
    )


def test_the_disk_is_asked_once_a_minute(tmp_path: Path, syncs: list[int]) -> None:
    log = RunLog(tmp_path)
    for second in range(600):
        log.write(MIDNIGHT + second, 1000.0 + second, [event_record(MIDNIGHT, "start")])
    assert 9 <= len(syncs) <= 11
    log.close(1600.0)
    assert 10 <= len(syncs) <= 12


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KiB."""
    mount_point = tmp_path / "disk"
    mount_point.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(mount_point)]
    if os.geteuid() != 0 or subprocess.run(command, check=False).returncode != 0:
        assert not os.environ.get("CI"), "continuous integration must mount the small disk"
        pytest.skip("a small disk can't be mounted here")
    yield mount_point
    subprocess.run(["umount", str(mount_point)], check=True)


def test_a_really_full_disk(small_disk: Path) -> None:
    log = RunLog(small_disk)
    filler = small_disk / "filler"
    log.write(MIDNIGHT, 0.0, [event_record(MIDNIGHT, "start")])
    target = os.open(filler, os.O_WRONLY | os.O_CREAT)
    with contextlib.suppress(OSError):
        while True:
            os.write(target, b"x" * 512)
    os.close(target)
    many = [record(MIDNIGHT + 1, "blue", GIVEN, has_relay=True)] * 200
    log.write(MIDNIGHT + 1, 1.0, [*many, event_record(MIDNIGHT + 1, "hold")])
    assert log.fault == "no space left on device"
    log.write(MIDNIGHT + 2, 2.0, [event_record(MIDNIGHT + 2, "release")])
    filler.unlink()
    log.write(MIDNIGHT + 3, 3.0, many)  # not before its time
    assert log.fault is not None
    log.write(MIDNIGHT + 20, 20.0, [event_record(MIDNIGHT + 20, "stop")])
    assert log.fault is None
    log.close(20.0)
    held = lines(small_disk)
    assert held[:2] == [HEADER.strip(), b"2027-03-02T00:00:00Z,,,,,,,,start"]
    assert [line.rsplit(b",", 1)[-1] for line in held[2:]] == [b"hold", b"release", b"stop", b""]


# ---- state, hold, lock


STATE = State(boot_id="b", boot_s=5.5, unix_s=1e9, is_trusted=True,
              outputs={"blue": Remembered(7, True)})  # fmt: skip


def test_a_state_comes_back_as_it_was(tmp_path: Path) -> None:
    keep = StateStore(tmp_path)
    assert keep.read_state() is None
    keep.write_state(STATE)
    assert keep.read_state() == STATE
    assert sorted(p.name for p in tmp_path.iterdir()) == ["state.json"]


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"{}", b'{"format": 1}', b"\xff", b"[" * 10**6,
                                 b'{"format":"photoperiod-state","version":1,"boot_id":"b",'
                                 b'"boot_s":NaN,"unix_s":1,"is_trusted":true,"outputs":{}}'])  # fmt: skip
def test_a_broken_state_is_none(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "state.json").write_bytes(raw)
    assert StateStore(tmp_path).read_state() is None


def test_a_state_that_cannot_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep = StateStore(tmp_path)
    keep.write_state(STATE)

    def fail(_target: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="Input/output"):
        keep.write_state(State(boot_id="c", boot_s=1, unix_s=2, is_trusted=False))
    assert keep.read_state() == STATE
    assert sorted(p.name for p in tmp_path.iterdir()) == ["state.json"]


def test_one_player_only(tmp_path: Path) -> None:
    first, second = StateStore(tmp_path), StateStore(tmp_path)
    assert not second.is_locked()
    first.lock()
    assert second.is_locked()
    with pytest.raises(OutsideWorldError, match=f"process {os.getpid()}") as caught:
        second.lock()
    assert caught.value.code == "PHO509"
    first.unlock()
    second.lock()
    second.unlock()


def test_a_hold_is_there_until_released(tmp_path: Path) -> None:
    keep = StateStore(tmp_path / "new")
    assert not keep.is_held() and not keep.release()
    keep.hold("why")
    assert keep.is_held() and keep.hold_file.read_text() == "why\n"
    assert keep.release() and not keep.is_held()


# ---- trust


def trust(policy: str = "auto", **world: object) -> str:
    settings = {"synchronised": False, "battery": False, "unix": MIDNIGHT + HOUR} | world
    evidence = [Evidence(MIDNIGHT, "it was written"), Evidence(0.0, "long ago")]
    return why_not(policy, FakeWorld(**settings), evidence)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("policy", "synchronised", "battery", "is_trusted"),
    [
        ("auto", True, False, True),
        ("auto", False, False, False),
        ("auto", False, True, True),
        ("auto", None, False, True),
        ("synchronised", True, False, True),
        ("synchronised", False, True, False),
        ("synchronised", None, True, False),
        ("later", False, False, True),
    ],
)
def test_policies(policy: str, synchronised: bool | None, battery: bool, is_trusted: bool) -> None:
    assert (trust(policy, synchronised=synchronised, battery=battery) == "") is is_trusted


@pytest.mark.parametrize("policy", ["auto", "synchronised", "later"])
def test_no_clock_is_trusted_before_what_has_happened(policy: str) -> None:
    why = trust(policy, synchronised=True, battery=True, unix=MIDNIGHT - 1)
    assert why == "it is before it was written (2027-03-02T00:00:00Z)"


def test_trust_outlives_a_player_but_not_a_machine() -> None:
    world = FakeWorld(unix=MIDNIGHT + 100, boot=200.0)
    held = State(boot_id="this start", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=True)
    assert was_trusted(held, world)
    assert not was_trusted(None, world)
    assert not was_trusted(
        State(boot_id="other", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=True), world
    )
    assert not was_trusted(
        State(boot_id="this start", boot_s=100.0, unix_s=0.0, is_trusted=True), world
    )
    assert not was_trusted(
        State(boot_id="this start", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=False), world
    )


def test_this_machine_has_a_clock_and_a_start() -> None:
    """In a process of its own: signals are taken for good, and a thread was there before."""
    code = (
        "import os, signal, threading, time\n"
        "threading.Thread(target=time.sleep, args=(60,), daemon=True).start()\n"
        "from photoperiod.board.system import Linux\n"
        "w = Linux(); a = w.boot_s(); assert w.wait(0.05) is None; assert 0.04 < w.boot_s() - a < 5\n"
        "os.kill(os.getpid(), signal.SIGHUP); time.sleep(0.05)\n"
        "assert w.wait(60) == signal.SIGHUP; assert w.wait(0) is None\n"
        "signal.alarm(1); signal.signal(signal.SIGALRM, lambda *_: os.kill(os.getpid(), signal.SIGTERM))\n"
        "assert w.wait(60) in (signal.SIGALRM, signal.SIGTERM)\n"
        "for number in (signal.SIGHUP, signal.SIGINT):\n"
        "    os.kill(os.getpid(), number); time.sleep(0.05)\n"
        "assert w.wait(60) in (signal.SIGTERM, signal.SIGINT), 'one that ends it comes first'\n"
        "assert w.is_synchronised() in (True, False, None); assert len(w.boot_id) in (0, 36)\n"
        "assert w.has_battery_clock() in (True, False); print(int(w.unix_s()))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert abs(int(done.stdout) - time.time()) < 60


def test_numbers_beyond_all_measure_are_no_state(tmp_path: Path) -> None:
    keep = StateStore(tmp_path)
    for boot in ("1e999", "1" + "0" * 400):
        text = (
            '{"format": "photoperiod-state", "version": 1, "boot_id": "x", "boot_s": BOOT, "unix_s": 1,'
            ' "is_trusted": true, "outputs": {"blue": {"code": 1e999, "relay": true}}}'
        )
        (tmp_path / "state.json").write_text(text.replace("BOOT", boot))
        assert keep.read_state() is None


def test_a_hold_needs_no_room_for_its_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("photoperiod.board.state_store.write_whole", refuse)
    keep = StateStore(tmp_path)
    keep.hold("why")
    assert keep.is_held()
