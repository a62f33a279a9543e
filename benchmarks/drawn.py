"""A hundred thousand valid schedules, drawn over the whole language, through all of `compile` and `export`.

    python benchmarks/drawn.py [--schedules 100000] [--seconds 600] [--state drawn.json] [--processes 1]

Goes on where the state file ends; it is written after each hundred. Each three thousand
are compiled by a process of their own, whose memory is the only memory. `tests/drawn/` draws the schedules, reads back
all that was written by readers of its own, and holds it against laws; each tenth is verified without the code of the
fit, each hundredth compiled again by a command with other hashes, time zone and language, and without the kernel. A hundred
that takes more than an hour hangs, and counts as a failure.

Prints what was reached, which keys of the language were never drawn, and `failures: 0` last; exit code 1 if there are any.
"""

from __future__ import annotations

import argparse
import json
import os
import queue
import resource
import subprocess
import sys
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from photoperiod.formats.atomic import replace_file  # noqa: E402

#: Schedules between two lines of the state file.
CHUNK = 100

#: Seeds of the tests are smaller; no schedule of theirs comes again.
FIRST_SEED = 1_000_000

#: So many hundreds are compiled by one process.
CHUNKS_A_PROCESS = 30

#: A hundred schedules take some ten seconds. [s]
HANGS_S = 3600.0

#: Of failures so many are kept, each with its seed.
MOST_KEPT = 100

#: Memory that was freed stays with the process: large arrays come and go in each fit.
KEEPS_MEMORY = {
    "MALLOC_MMAP_THRESHOLD_": "4000000000",
    "MALLOC_TRIM_THRESHOLD_": "4000000000",
    "MALLOC_TOP_PAD_": "67108864",
}

#: What a hundred schedules led to that were not compiled to the end.
NOTHING: dict[str, Any] = {
    "codes": {},
    "refusals": {},
    "used": [],
    "written": 0,
    "refused": 0,
    "again": 0,
    "verified": 0,
    "failures": [],
    "cpu_s": 0.0,
    "peak_mib": 0.0,
}


def compile_chunk(number: int) -> dict[str, Any]:
    """Compile a hundred schedules; return what they led to."""
    from tests.drawn.run import run_of

    before = _cpu_s()
    run = run_of(FIRST_SEED + number * CHUNK, CHUNK)
    return {
        "codes": run.codes,
        "refusals": run.refusals,
        "used": sorted(run.used),
        "written": run.written,
        "refused": run.refused,
        "again": run.again,
        "verified": run.verified,
        "failures": run.failures,
        "cpu_s": _cpu_s() - before,
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def _cpu_s() -> float:
    """Return the processor time of this process and of the commands that it ran. [s]"""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def add(state: dict[str, Any], number: int, found: dict[str, Any]) -> None:
    """Add what a hundred schedules led to."""
    state["chunks"] = sorted([*state["chunks"], number])
    for key in ("codes", "refusals"):
        state[key] = dict(sorted((Counter(state[key]) + Counter(found[key])).items()))
    state["used"] = sorted({*state["used"], *found["used"]})
    for key in ("written", "refused", "again", "verified", "cpu_s"):
        state[key] += found[key]
    state["failed"] += len(found["failures"])
    state["failures"] = (state["failures"] + found["failures"])[:MOST_KEPT]
    state["peak_mib"] = max(state["peak_mib"], found["peak_mib"])


class Sweep:
    """Hundreds that are left, and the processes that compile them."""

    def __init__(self, state: dict[str, Any], path: Path, schedules: int, until_s: float) -> None:
        self.state, self.path, self.until_s = state, path, until_s
        self._lock = threading.Lock()
        self._left: queue.SimpleQueue[list[int]] = queue.SimpleQueue()
        left = [n for n in range(-(-schedules // CHUNK)) if n not in state["chunks"]]
        for at in range(0, len(left), CHUNKS_A_PROCESS):
            self._left.put(left[at : at + CHUNKS_A_PROCESS])

    def go(self, processes: int) -> None:
        """Compile until nothing is left, or the time is over."""
        threads = [threading.Thread(target=self._work) for _ in range(processes)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def _work(self) -> None:
        while time.monotonic() < self.until_s:
            try:
                numbers = self._left.get_nowait()
            except queue.Empty:
                return
            self._compile(numbers)

    def _compile(self, numbers: list[int]) -> None:
        command = [sys.executable, __file__, "--compile", *map(str, numbers)]
        environment = {**os.environ, **KEEPS_MEMORY}
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, env=environment
        ) as process:
            assert process.stdout is not None
            for number in numbers:
                left_s = max(self.until_s - time.monotonic(), 0.0)
                watch = threading.Timer(min(HANGS_S, left_s), process.kill)
                watch.start()
                line = process.stdout.readline()
                watch.cancel()
                is_over = time.monotonic() >= self.until_s
                with self._lock:
                    if line.endswith("\n"):
                        add(self.state, number, json.loads(line))
                    elif not is_over:  # it was killed by the system, or it hung
                        why = f"hundred {number}: hung, or its process ended"
                        add(self.state, number, NOTHING | {"failures": [why]})
                    replace_file(self.path, json.dumps(self.state, indent=1).encode())
                if is_over or not line.endswith("\n"):
                    break
            process.kill()


def told(state: dict[str, Any]) -> list[str]:
    """Return lines that tell what the schedules of a state led to."""
    from tests.drawn.reach import known

    schedules = len(state["chunks"]) * CHUNK
    each_ms = state["cpu_s"] / max(schedules, 1) * 1000
    codes, refusals = (Counter(state[key]).most_common() for key in ("codes", "refusals"))
    keys = known()
    return [
        f"schedules: {schedules:,}, {each_ms:.0f} ms of a core each",
        f"written {state['written']:,}, refused {state['refused']:,} (with a ledger, a schedule is compiled twice)",
        f"verified without the fit: {state['verified']:,}; compiled again by a command: {state['again']:,}",
        f"keys and words of the language: {len(keys & set(state['used']))} of {len(keys)}",
        "never drawn: " + (", ".join(sorted(keys - set(state["used"]))) or "none"),
        f"finding codes: {len(codes)}: " + ", ".join(f"{code} {count:,}" for code, count in codes),
        "refused because of: " + ", ".join(f"{code} {count:,}" for code, count in refusals),
        f"peak of memory: {state['peak_mib']:.0f} MiB",
    ]


def main() -> int:
    """Compile schedules and print what they led to."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--schedules", type=int, default=100_000, help="how many in all")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    parser.add_argument("--state", type=Path, default=Path("drawn.json"), help="where it goes on")
    parser.add_argument("--processes", type=int, default=1, help="how many at a time")
    parser.add_argument("--compile", type=int, nargs="+", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.compile:
        for number in options.compile:
            print(json.dumps(compile_chunk(number)), flush=True)
        return 0
    state: dict[str, Any] = NOTHING | {"chunks": [], "failed": 0}
    if options.state.exists():
        state = json.loads(options.state.read_bytes())
    until_s = time.monotonic() + options.seconds
    Sweep(state, options.state, options.schedules, until_s).go(options.processes)
    for line in (*told(state), *state["failures"], f"failures: {state['failed']}"):
        print(line)
    return 1 if state["failed"] else 0


if __name__ == "__main__":
    sys.exit(main())
