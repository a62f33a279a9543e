"""Events and records wait until the clock is trusted, and survive a full disk."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.board.bench import (
    HOUR,
    MIDNIGHT,
    STEADY,
    Bench,
    code,
    table,
)


def test_records_begin_when_the_clock_is_right(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, unix=5000.0, synchronised=False, stop_s=200)

    def synchronise() -> None:
        bench.system.synchronised = True
        bench.system.unix = MIDNIGHT + 12 * HOUR

    bench.system.at(100, synchronise)
    bench.run()
    records = bench.records()
    assert [r[-1] for r in records if r[-1]] == ["start", "safe", "clock-step", "resumed", "stop"]
    # The start was 100 s before the clock was set, and is told by the right clock.
    assert records[0][0] == "2027-03-02T11:58:20Z"
    assert {r[0][:10] for r in records} == {"2027-03-02"}


def test_a_full_disk_costs_records_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(tmp_path, table((0, 80), (86_399, 0), every_seconds=1), stop_s=400)
    bench.light(code(40))
    really = os.write

    def full(target: int, data: bytes) -> int:
        if b"2027" in data:
            raise OSError(28, "No space left on device")
        return really(target, data)

    bench.system.at(100, lambda: monkeypatch.setattr(os, "write", full))
    bench.system.at(110, lambda: bench.store.hold("while the disk is full"))
    bench.system.at(150, bench.store.release)
    bench.system.at(300, lambda: monkeypatch.setattr(os, "write", really))
    seen = bench.watch([99, 120, 299, 399])
    assert [relay for _, relay in seen] == [True, False, True, True]
    # What happened meanwhile is written when the disk has room again.
    assert bench.events() == ["start", "hold", "log-lost", "release", "log-back", "stop"]
    assert any("the log can't be written: no space left" in text for text in bench.said)
