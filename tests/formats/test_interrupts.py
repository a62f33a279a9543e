"""Ctrl-C comes at the end, to whoever was meant to get it."""

from __future__ import annotations

import signal
import sys
import threading
from types import FrameType

import pytest

from photoperiod.formats.interrupts import interrupts_wait


def test_ctrl_c_comes_at_the_end() -> None:
    done = []
    with pytest.raises(KeyboardInterrupt):
        with interrupts_wait():
            signal.raise_signal(signal.SIGINT)
            done.append("all")
        done.append("more")
    assert done == ["all"]


def test_what_answered_before_answers_again(monkeypatch: pytest.MonkeyPatch) -> None:
    got: list[int] = []

    def answer(number: int, _: FrameType | None) -> None:
        got.append(number)

    before = signal.signal(signal.SIGINT, answer)
    try:
        with interrupts_wait():
            signal.raise_signal(signal.SIGINT)
            assert got == []
        assert got == [signal.SIGINT]
        with interrupts_wait():
            pass
        assert got == [signal.SIGINT] and signal.getsignal(signal.SIGINT) is answer
    finally:
        signal.signal(signal.SIGINT, before)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_sigterm_waits_too() -> None:
    got: list[int] = []
    before = signal.signal(signal.SIGTERM, lambda number, _: got.append(number))
    try:
        with interrupts_wait():
            signal.raise_signal(signal.SIGTERM)
            assert got == []
        assert got == [signal.SIGTERM]
    finally:
        signal.signal(signal.SIGTERM, before)


def test_another_thread_has_nothing_to_wait_for() -> None:
    seen: list[object] = []

    def work() -> None:
        with interrupts_wait():
            seen.append(signal.getsignal(signal.SIGINT))

    before = signal.getsignal(signal.SIGINT)
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [before]
