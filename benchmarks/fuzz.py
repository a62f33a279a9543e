"""A million damaged and changed schedules through the reader: only diagnostics may come out.

    python benchmarks/fuzz.py [--texts 1000000] [--seconds 600] [--state fuzz.json]

Goes on where the state file ends, so that a million texts may take many nights; it is written after each
thousand. Texts are those of `tests/test_fuzz.py`, by another seed for each thousand; every fiftieth that
gives a schedule is compiled. Each ten thousand are read by a process of their own, whose memory is the only
memory: what a text leaves behind can't pile up. A thousand that takes more than ten minutes hangs, and
counts as a failure. Prints what was reached and how fast, and `failures: 0` last; exit code 1 if there are any.
"""

from __future__ import annotations

import argparse
import json
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

#: Texts of one seed.
CHUNK = 1_000

#: Seeds of the tests are smaller; no text of theirs comes again.
FIRST_SEED = 30_000_000

#: So many thousands are read by one process.
CHUNKS_A_PROCESS = 10

#: A thousand texts take some seconds. [s]
HANGS_S = 600.0

#: Of failures so many are kept, each with its text.
MOST_KEPT = 100


#: What a thousand texts led to that were not read to the end.
NOTHING: dict[str, Any] = {
    "stages": {},
    "codes": {},
    "compiled": 0,
    "failures": [],
    "cpu_s": 0.0,
    "peak_mib": 0.0,
}


def read_chunk(seed: int) -> dict[str, Any]:
    """Read a thousand texts; return what they led to."""
    from tests.test_fuzz import run_of

    began = time.process_time()
    run = run_of(seed, CHUNK)
    return {
        "stages": run.stages,
        "codes": run.codes,
        "compiled": run.compiled,
        "failures": [f"seed {seed}, {text}" for text in run.failures],
        "cpu_s": time.process_time() - began,
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def add(state: dict[str, Any], found: dict[str, Any]) -> None:
    """Add what a thousand texts led to."""
    state["chunks"] += 1
    for key in ("stages", "codes"):
        state[key] = dict(sorted((Counter(state[key]) + Counter(found[key])).items()))
    state["compiled"] += found["compiled"]
    state["failed"] += len(found["failures"])
    state["failures"] = (state["failures"] + found["failures"])[:MOST_KEPT]
    state["cpu_s"] += found["cpu_s"]
    state["peak_mib"] = max(state["peak_mib"], found["peak_mib"])


def read_on(state: dict[str, Any], path: Path, texts: int, until_s: float) -> None:
    """Read thousands of texts until there are enough or the time is over."""
    while state["chunks"] * CHUNK < texts and time.monotonic() < until_s:
        first = FIRST_SEED + state["chunks"]
        count = min(CHUNKS_A_PROCESS, -(-texts // CHUNK) - state["chunks"])
        command = [sys.executable, __file__, "--read", str(first), str(count)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            watch = threading.Timer(HANGS_S, process.kill)
            for seed in range(first, first + count):
                watch.cancel()
                watch = threading.Timer(HANGS_S, process.kill)
                watch.start()
                line = process.stdout.readline()
                if line.endswith("\n"):
                    add(state, json.loads(line))
                else:  # it was killed, by us or by the system
                    add(state, NOTHING | {"failures": [f"seed {seed}: hung, or its process ended"]})
                replace_file(path, json.dumps(state, indent=1).encode())
                if not line.endswith("\n") or time.monotonic() >= until_s:
                    break
            watch.cancel()
            process.kill()


def read_for_parent(first: int, count: int) -> int:
    """Print for each thousand texts a line of JSON that says what they led to."""
    for seed in range(first, first + count):
        print(json.dumps(read_chunk(seed)), flush=True)
    return 0


def main() -> int:
    """Read texts and print what they led to."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--texts", type=int, default=1_000_000, help="how many in all")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    parser.add_argument("--state", type=Path, default=Path("fuzz.json"), help="where it goes on")
    parser.add_argument("--read", type=int, nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.read:
        return read_for_parent(*options.read)
    state: dict[str, Any] = NOTHING | {"chunks": 0, "failed": 0}
    if options.state.exists():
        state = json.loads(options.state.read_bytes())
    read_on(state, options.state, options.texts, time.monotonic() + options.seconds)
    texts = state["chunks"] * CHUNK
    print(f"texts: {texts:,}, {texts / max(state['cpu_s'], 1e-9):,.0f} for each second of a core")
    print("reached:", ", ".join(f"{stage} {count:,}" for stage, count in state["stages"].items()))
    print(f"finding codes: {len(state['codes'])}; compiled: {state['compiled']:,}")
    print(f"peak of memory: {state['peak_mib']:.0f} MiB")
    for text in state["failures"]:
        print(text)
    print(f"failures: {state['failed']}")
    return 1 if state["failed"] else 0


if __name__ == "__main__":
    sys.exit(main())
