"""A command that is told to end tidies up, and ends by the signal."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading

import pytest

from photoperiod.cli.termination import tidied_when_terminated
from tests.conftest import ROOT

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")

#: A command that is told to end while it works, and again while it tidies up, as `timeout` does.
SCRIPT = """
import atexit, os, signal, sys, time
from photoperiod import cli

def work(**_):
    atexit.register(print, "library tidied")
    try:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(60)
    finally:
        os.kill(os.getpid(), signal.SIGTERM)
        print("command tidied")

signal.signal(signal.SIGINT, {interrupt})
cli.cli.main = work
cli.main()
"""


@pytest.mark.parametrize("interrupt", ["signal.default_int_handler", "signal.SIG_IGN"])
def test_a_command_and_the_libraries_under_it_tidy_up(interrupt: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(interrupt=interrupt)],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=30,
    )  # fmt: skip
    assert done.returncode == -signal.SIGTERM
    assert done.stdout.splitlines() == ["command tidied", "library tidied"]
    assert done.stderr == ""


def test_one_that_is_not_told_ends_as_it_would() -> None:
    script = SCRIPT.replace("os.kill(os.getpid(), signal.SIGTERM)", "return 0", 1)
    script = script.replace("        os.kill(os.getpid(), signal.SIGTERM)\n", "")
    done = subprocess.run(
        [sys.executable, "-c", script.format(interrupt="signal.SIG_DFL")],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=30,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (0, "command tidied\nlibrary tidied\n")


def test_an_answer_of_somebody_else_stays_and_ours_goes() -> None:
    got: list[int] = []
    before = signal.getsignal(signal.SIGTERM)
    try:
        signal.signal(signal.SIGTERM, lambda number, _: got.append(number))
        with tidied_when_terminated():
            os.kill(os.getpid(), signal.SIGTERM)
        assert got == [signal.SIGTERM]
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        with tidied_when_terminated():
            assert signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL
        assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL
    finally:
        signal.signal(signal.SIGTERM, before)


def test_another_thread_can_not_answer_and_does_not_try() -> None:
    seen: list[object] = []

    def work() -> None:
        with tidied_when_terminated():
            seen.append(signal.getsignal(signal.SIGTERM))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [signal.getsignal(signal.SIGTERM)]
