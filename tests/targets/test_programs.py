"""The programs of docs/targets.md do what the page says."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from photoperiod.formats import c_header
from photoperiod.formats.image import Image, day_number
from photoperiod.player.reference import Status, play
from tests.conftest import ROOT
from tests.targets.images import HARD, about
from tests.targets.test_micropython import imported
from tests.targets.tools import HARNESS, WARNINGS, run, tool

PAGE = (ROOT / "docs" / "targets.md").read_text(encoding="utf-8")

#: 28 March 2027, worked out in test_worked_by_hand.py.
DAY = 9948


def a_day_on_the_board(made: Image) -> list[tuple[int, list[tuple[int, bool]]]]:
    """Return status, codes and relays of each second: the clock is set at 01:00, a stop at 14:00."""
    found, since_s = [], 0
    for second in range(86_400):
        status, outputs = play(
            made,
            DAY,
            second,
            clock_valid=second >= 3600,
            stopped=second // 3600 == 14,
            since_start_s=since_s,
        )
        since_s = 0 if status & Status.SAFE else since_s + 1
        found.append((int(status), [(o.code, o.relay) for o in outputs]))
    return found


@pytest.fixture(scope="module")
def made() -> Image:
    changes: dict[str, Any] = {"soft_start_minutes": 30}
    return replace(HARD["dated-and-shared"], **changes)


def test_c(made: Image, tmp_path: Path) -> None:
    (program,) = re.findall(r"```c\n(.+?)```", PAGE, re.DOTALL)
    (tmp_path / "program.c").write_text(program)
    (tmp_path / "photoperiod.h").write_bytes(c_header.render(made, about(made)))
    command = [tool("gcc"), "-std=c99", *WARNINGS, "-fsanitize=undefined,address", f"-I{tmp_path}"]
    run([*command, HARNESS / "board.c", "-o", tmp_path / "board"])
    raw = run([tmp_path / "board"])
    one = np.dtype([("code", "<u2"), ("relay", "u1")])
    played = np.frombuffer(raw, dtype=[("status", "u1"), ("outputs", one, (2,))])
    wanted = a_day_on_the_board(made)
    assert {status for status, _ in wanted} == {0, 1, 8}
    assert np.array_equal(played, np.array(wanted, dtype=played.dtype))


def test_micropython(made: Image) -> None:
    (program,) = re.findall(r"```python\n(.+?)```", PAGE, re.DOTALL)
    module = imported(made)
    second, is_closed, codes, found = 0, [False, False], [0, 0], []

    class DayIsOver(Exception):
        pass

    def set_converter(n: int, code: int) -> None:
        codes[n] = code
        at_set[n] = is_closed[n]

    def set_relay(n: int, closed: bool) -> None:
        is_closed[n] = closed

    def show(status: int) -> None:
        for n in range(2):
            assert not at_set[n] or (before[n] and is_closed[n])
        before[:] = is_closed
        found.append((status, list(zip(codes, is_closed, strict=True))))

    def wait() -> None:
        nonlocal second
        second += 1
        if second == 86_400:
            raise DayIsOver

    at_set, before = [False, False], [False, False]
    names = {
        "read_clock": lambda: (DAY, second, second >= 3600),
        "is_stopped": lambda: second // 3600 == 14,
        "open_relay": lambda n: set_relay(n, False),
        "close_relay": lambda n: set_relay(n, True),
        "set_converter": set_converter,
        "show": show,
        "reset_watchdog": lambda: None,
        "wait_for_next_second": wait,
        "SAFE": module.SAFE,
        "load": module.load,
    }
    program = program.replace("from photoperiod_table import SAFE, load\n", "")
    with pytest.raises(DayIsOver):
        exec(program, names)
    assert found == a_day_on_the_board(made)


def test_the_day_of_the_page() -> None:
    assert "photoperiod_day(2027, 3, 28)" in PAGE
    assert day_number(dt.date(2027, 3, 28)) == DAY
    assert (dt.date(2000, 1, 1) - dt.date(1970, 1, 1)).days == 10_957
