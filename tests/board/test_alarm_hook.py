"""A command for alarms: it is run, it fails, it hangs, it is not there; nothing waits for it."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from photoperiod.board.alarm_hook import MOST_WAITING, AlarmHook, HookWord
from tests.board.process import until


def script(folder: Path, text: str) -> list[str]:
    path = folder / "hook.py"
    path.write_text(text)
    return [sys.executable, "-S", "-E", str(path)]


APPEND = (
    "import sys, pathlib\n"
    "f = pathlib.Path(sys.argv[1]); f.open('a').write('|'.join(sys.argv[2:]) + '\\n')\n"
)


def finish(hook: AlarmHook, boot_s: float) -> None:
    """Wait until nothing runs any more."""

    def is_idle() -> bool:
        hook.poll(boot_s)
        return hook._running is None

    until(is_idle, "the end")


def test_alarms_are_told_one_after_the_other(tmp_path: Path) -> None:
    told = tmp_path / "told"
    said: list[str] = []
    hook = AlarmHook([*script(tmp_path, APPEND), str(told)], 20.0, said.append)
    hook.tell(HookWord.ALARM, "the relay of 'blue' $(reboot); \x1b[2J is lost")
    hook.tell(HookWord.OVER, "the relay of 'blue'")

    def both() -> bool:
        hook.poll(0.0)
        return told.exists() and told.read_text().count("\n") == 2

    until(both, "both calls")
    finish(hook, 0.0)
    first, second = told.read_text().splitlines()
    assert first.startswith("alarm|the relay of 'blue' $(reboot); ")  # no shell has read it
    assert "\x1b" not in first and second == "over|the relay of 'blue'"
    assert said == []


def test_one_that_hangs_is_killed_and_the_next_is_told(tmp_path: Path) -> None:
    code = APPEND + "import time; time.sleep(600 if sys.argv[3] == 'hang' else 0)\n"
    told = tmp_path / "told"
    said: list[str] = []
    hook = AlarmHook([*script(tmp_path, code), str(told)], 5.0, said.append)
    hook.tell(HookWord.ALARM, "hang")
    hook.tell(HookWord.ALARM, "next")
    began_s = time.monotonic()
    hook.poll(100.0)
    until(lambda: told.exists() and "hang" in told.read_text(), "the first call")
    for boot_s in (101.0, 104.9):  # the player's steps go on meanwhile
        hook.poll(boot_s)
    assert said == [] and time.monotonic() - began_s < 25
    hook.poll(105.1)
    assert len(said) == 1 and said[0].endswith("hangs: killed after 5 s")

    def next_one() -> bool:
        hook.poll(106.0)
        return "next" in told.read_text()

    until(next_one, "the next call")
    finish(hook, 106.0)
    assert len(said) == 1  # a killed one is told once


def test_one_that_fails_and_one_that_is_not_there_are_told(tmp_path: Path) -> None:
    said: list[str] = []
    hook = AlarmHook(script(tmp_path, "raise SystemExit(3)"), 20.0, said.append)
    hook.tell(HookWord.ALARM, "x")

    def ended() -> bool:
        hook.poll(0.0)
        return bool(said)

    until(ended, "the end")
    assert said[0].endswith("ended with 3")
    absent = AlarmHook([str(tmp_path / "absent")], 20.0, said.append)
    absent.tell(HookWord.ALARM, "x")
    absent.poll(0.0)
    assert said[1].endswith("can't be started: no such file or folder")


def test_a_flood_of_alarms_is_cut(tmp_path: Path) -> None:
    hook = AlarmHook(["true"], 20.0, lambda _: None)
    for number in range(10 * MOST_WAITING):
        hook.tell(HookWord.ALARM, str(number))
    assert len(hook._waiting) == MOST_WAITING and hook._waiting[-1][1] == str(10 * MOST_WAITING - 1)
