"""The machine itself: its clock, its start and its signals."""

from __future__ import annotations

import subprocess
import sys
import time


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
        "assert w.is_synchronised() in (True, False, None); assert len(w.boot_id) in (0, 36)\n"
        "assert w.has_battery_clock() in (True, False); print(int(w.unix_s()))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert abs(int(done.stdout) - time.time()) < 60
