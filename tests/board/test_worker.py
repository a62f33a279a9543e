"""Processes that touch files for the player: they answer, hang, die, and never outlive it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.worker import KILL_S, LEAST_WAIT_S, REFILL, STORE_S, Patience, Side, Worker
from tests.board.process import until

#: A call that is given up comes back within this [s]; far less than the player may freeze.
SOON_S = 3.0


class Clock:
    """Seconds that pass when somebody says so."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def worker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Worker]:
    monkeypatch.setattr("photoperiod.board.worker.STORE_S", 0.5)
    (tmp_path / "raw").write_text("12\n")
    made = Worker(Side.SYSFS, str(tmp_path), "raw", Patience())
    yield made
    made.close()
    made.process.kill()
    made.process.wait()


def test_patience_is_a_store_that_fills_again() -> None:
    clock = Clock()
    patience = Patience(clock)
    assert patience.left_s() == STORE_S
    patience.spend(LEAST_WAIT_S)  # an answer at once costs nothing
    assert patience.left_s() == STORE_S
    for _ in range(20):  # as many devices that hang
        patience.spend(patience.left_s())
    assert patience.left_s() == LEAST_WAIT_S
    clock.now_s += 1.0
    assert patience.left_s() == pytest.approx(LEAST_WAIT_S + REFILL)
    clock.now_s += 3600
    assert patience.left_s() == STORE_S


def test_it_answers_as_the_files_do(worker: Worker, tmp_path: Path) -> None:
    assert worker.call("read", "raw") == "12"
    worker.call("write", "raw", "7")
    assert (tmp_path / "raw").read_text() == "7"
    with pytest.raises(FileNotFoundError) as caught:
        worker.call("write", "other", "7")
    assert caught.value.filename.endswith("other")
    assert worker.call("read", "raw") == "7"  # an error ends nothing


def test_it_does_without_numpy_and_has_a_name(worker: Worker) -> None:
    worker.call("exists", "raw")
    maps = Path(f"/proc/{worker.process.pid}/maps").read_text()
    assert "numpy" not in maps and "yaml" not in maps
    words = Path(f"/proc/{worker.process.pid}/cmdline").read_bytes().split(b"\0")
    assert words[-2] == b"raw"


def test_signals_to_the_whole_service_do_not_end_it(worker: Worker) -> None:
    """A service manager may send SIGTERM to all processes, and Ctrl-C reaches them, too."""
    worker.call("exists", "raw")
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        worker.process.send_signal(number)
    assert worker.call("exists", "raw") is True
    assert os.getsid(worker.process.pid) != os.getsid(0)


def test_one_that_hangs_is_given_up_and_taken_up_again(worker: Worker, tmp_path: Path) -> None:
    worker.call("exists", "raw")
    worker.process.send_signal(signal.SIGSTOP)
    began_s = time.monotonic()
    with pytest.raises(TimeoutError, match="It hangs: no answer"):
        worker.call("write", "raw", "33")
    assert time.monotonic() - began_s < SOON_S
    began_s = time.monotonic()
    with pytest.raises(TimeoutError, match="an earlier call has not come back"):
        worker.call("write", "raw", "44")
    assert time.monotonic() - began_s < LEAST_WAIT_S * 5  # nobody waits for it twice
    worker.process.send_signal(signal.SIGCONT)
    until(lambda: (tmp_path / "raw").read_text() == "33", "the late write")
    until(lambda: _answers(worker), "the process")
    assert worker.call("read", "raw") == "33"  # and not an answer to another call


def _answers(worker: Worker) -> bool:
    try:
        return bool(worker.call("exists", "raw"))
    except TimeoutError:
        return False


def test_one_that_hangs_for_long_is_killed_and_replaced(
    worker: Worker,
) -> None:
    worker.call("exists", "raw")
    first = worker.process.pid
    worker.process.send_signal(signal.SIGSTOP)
    with pytest.raises(TimeoutError):
        worker.call("read", "raw")
    assert worker._awaited_since_s is not None
    worker._awaited_since_s -= KILL_S  # as if so much time had passed
    until(lambda: _answers(worker), "another process")
    assert worker.process.pid != first


def test_half_a_call_is_never_followed_by_another(worker: Worker) -> None:
    """A process that is stopped takes only as much as its line holds."""
    worker.call("exists", "raw")
    first = worker.process.pid
    worker.process.send_signal(signal.SIGSTOP)
    with pytest.raises(TimeoutError):
        worker.call("write", "raw", "7" * 400_000)
    worker.process.wait(10)  # it could not be told anything any more
    until(lambda: _answers(worker), "another process")
    assert worker.process.pid != first


def test_one_that_dies_is_replaced(worker: Worker) -> None:
    worker.call("exists", "raw")
    worker.process.kill()
    worker.process.wait()
    until(lambda: _answers(worker), "another process")


def test_it_dies_with_the_player(tmp_path: Path) -> None:
    """Even while it is stopped: a write that comes late would be nobody's."""
    code = (
        "import sys, os, signal\n"
        "from photoperiod.board.worker import Patience, Side, Worker\n"
        f"worker = Worker(Side.SYSFS, {str(tmp_path)!r}, 'x', Patience())\n"
        "worker.call('exists', 'raw'); worker.process.send_signal(signal.SIGSTOP)\n"
        "print(worker.process.pid, flush=True); sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as player:
        assert player.stdout is not None
        process = Path(f"/proc/{int(player.stdout.readline())}")
        assert process.exists()
        player.kill()
    until(lambda: not process.exists() or "Z (zombie)" in _status(process), "its end")


def _status(process: Path) -> str:
    try:
        return (process / "status").read_text()
    except OSError:
        return "Z (zombie)"
