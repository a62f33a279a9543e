"""The long sweeps of benchmarks/: they go on where they ended, and lose no chunk, whatever ends a process."""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path

import pytest

from benchmarks import sweep as benchmark
from benchmarks.sweep import Limits, Sums, Sweep, finish
from tests.conftest import ROOT

SCRIPT = """\
import os, sys, time
sys.path.insert(0, {root!r})
from benchmarks.sweep import answer

def work(number):
    if number == 4:
        os._exit(3)
    if number == 6:
        open("hangs", "w").close()
        time.sleep(60)
    return {{"codes": {{"PHO1": number}}, "words": [f"w{{number % 3}}"], "written": 1,
             "failures": ["seven"] * (number == 7)}}

sys.exit(answer(map(int, sys.argv[1:]), work))
"""

WHICH = Sums(counters=("codes",), numbers=("written",), sets=("words",))
COUNTED = Sums(counters=("codes",), numbers=("written",), sets=("words",), counts_chunks=True)


@pytest.fixture
def script(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "sweep_of_test.py"
    path.write_text(SCRIPT.format(root=str(ROOT)))
    return path


class UntilItHangs(threading.Timer):
    """Waits until the script says that it hangs, instead of so long that no busy machine does."""

    def run(self) -> None:
        hangs = Path("hangs")
        while not self.finished.wait(0.01):
            if self.interval == 500.0 and hangs.exists():
                hangs.unlink()
                self.function()
                return


def sweep(
    script: Path, sums: Sums, chunks: int, *, seconds: float = 600.0, hangs_s: float = 600.0,
    processes: int = 1,
) -> dict[str, object]:  # fmt: skip
    """Go on with a sweep; return the state that its file holds then."""
    path = script.with_name("state.json")
    limits = Limits(time.monotonic() + seconds, hangs_s, chunks_a_process=3)
    Sweep(sums, sums.read(path), path, chunks, limits).go(
        lambda numbers: [sys.executable, "-B", str(script), *map(str, numbers)],
        processes,
    )
    found: dict[str, object] = json.loads(path.read_bytes())
    return found


@pytest.mark.parametrize("sums", [WHICH, COUNTED], ids=["which", "how many"])
def test_a_sweep_goes_on_where_it_ended(script: Path, sums: Sums) -> None:
    assert sweep(script, sums, 2)["written"] == 2
    state = sweep(script, sums, 4)
    assert state["chunks"] == (4 if sums.counts_chunks else [0, 1, 2, 3])
    assert state["codes"] == {"PHO1": 0 + 1 + 2 + 3}  # none is done twice
    assert state["words"] == ["w0", "w1", "w2"]
    assert (state["written"], state["failed"], state["failures"]) == (4, 0, [])
    assert isinstance(state["peak_mib"], float) and state["peak_mib"] > 1
    assert finish(state, []) == 0


@pytest.mark.parametrize("sums", [WHICH, COUNTED], ids=["which", "how many"])
def test_a_process_that_ends_or_hangs_costs_its_chunk_alone(
    script: Path, sums: Sums, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(benchmark.threading, "Timer", UntilItHangs)
    state = sweep(script, sums, 9, hangs_s=500.0)
    assert state["chunks"] == (9 if sums.counts_chunks else list(range(9)))
    assert state["written"] == 7
    assert state["failures"] == [
        "chunk 4: hung, or its process ended",
        "chunk 6: hung, or its process ended",
        "seven",
    ]
    assert state["failed"] == 3
    assert finish(state, []) == 1


def test_several_processes_share_the_chunks(script: Path) -> None:
    state = sweep(script, WHICH, 4, processes=3)
    assert (state["chunks"], state["written"]) == ([0, 1, 2, 3], 4)


def test_what_the_time_cuts_off_is_no_failure_and_is_done_later(script: Path) -> None:
    began = time.monotonic()
    path = script.with_name("state.json")
    path.write_text(json.dumps(WHICH.nothing() | {"chunks": [0, 1, 2, 3, 4, 5], "failed": 0}))
    assert sweep(script, WHICH, 7, seconds=1.0)["chunks"] == [0, 1, 2, 3, 4, 5]
    assert time.monotonic() - began < 30
    assert sweep(script, WHICH, 6)["failed"] == 0
