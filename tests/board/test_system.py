"""The machine itself: its clock, its start and its signals."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest


def test_a_signal_to_stop_is_obeyed_whatever_hangs() -> None:
    """In a process of its own, which sleeps for a minute instead of stopping."""
    code = (
        "import os, signal, time\n"
        "from photoperiod.board import system; system.END_S = 0.2; system.LinuxSystem()\n"
        "os.kill(os.getpid(), signal.SIGTERM); time.sleep(60)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=50
    )
    assert done.returncode == 4 and "lamps may burn" in done.stderr


@pytest.mark.parametrize("name", ["socket", "@photoperiod-test"])
def test_a_service_manager_is_told(tmp_path: Path, name: str) -> None:
    """In a process of its own, with the socket that systemd would give it; sd_notify(3)."""
    address = name if name[0] == "@" else str(tmp_path / name)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind("\0" + name[1:] if name[0] == "@" else address)
        manager.settimeout(30)
        code = (
            "from photoperiod.board.system import LinuxSystem; w = LinuxSystem()\n"
            "w.tell_service('READY=1')\n"
            "import os; os.environ['NOTIFY_SOCKET'] = '/nowhere'; w.tell_service('WATCHDOG=1')\n"
            "del os.environ['NOTIFY_SOCKET']; w.tell_service('WATCHDOG=1')\n"
        )
        environment = os.environ | {"NOTIFY_SOCKET": address}
        subprocess.run([sys.executable, "-c", code], check=True, timeout=60, env=environment)
        assert manager.recv(99) == b"READY=1"
        manager.setblocking(False)
        with pytest.raises(BlockingIOError):
            manager.recv(99)


def test_this_machine_has_a_clock_and_a_start() -> None:
    """In a process of its own: signals are taken for good, and a thread was there before."""
    code = (
        "import os, signal, threading, time\n"
        "threading.Thread(target=time.sleep, args=(60,), daemon=True).start()\n"
        "from photoperiod.board.system import LinuxSystem\n"
        "w = LinuxSystem(); a = w.boot_s(); assert w.wait(0.05) is None; assert 0.04 < w.boot_s() - a < 5\n"
        "os.kill(os.getpid(), signal.SIGHUP); time.sleep(0.05)\n"
        "assert w.wait(60) == signal.SIGHUP; assert w.wait(0) is None\n"
        "signal.alarm(1); signal.signal(signal.SIGALRM, lambda *_: os.kill(os.getpid(), signal.SIGTERM))\n"
        "assert w.wait(60) in (signal.SIGALRM, signal.SIGTERM)\n"
        "for number in (signal.SIGHUP, signal.SIGINT):\n"
        "    os.kill(os.getpid(), number); time.sleep(0.05)\n"
        "assert w.wait(60) in (signal.SIGTERM, signal.SIGINT), 'one that ends it comes first'\n"
        "a = w.boot_s(); assert w.wait(9); assert w.boot_s() - a < 5, 'nothing is waited for any more'\n"
        "a = w.boot_s(); w.sleep(0.3); assert w.boot_s() - a >= 0.29, 'but a lamp that goes off is'\n"
        "assert w.is_synchronised() in (True, False, None); assert len(w.boot_id) in (0, 36)\n"
        "assert w.has_battery_clock() in (True, False); print(int(w.unix_s()))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert abs(int(done.stdout) - time.time()) < 60
