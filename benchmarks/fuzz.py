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
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from benchmarks.sweep import Limits, Sums, Sweep, answer, finish  # noqa: E402

#: Texts of one seed.
CHUNK = 1_000

#: Seeds of the tests are smaller; no text of theirs comes again.
FIRST_SEED = 30_000_000

#: So many thousands are read by one process.
CHUNKS_A_PROCESS = 10

#: A thousand texts take some seconds. [s]
HANGS_S = 600.0

SUMS = Sums(counters=("stages", "codes"), numbers=("compiled",), counts_chunks=True)


def read_chunk(seed: int) -> dict[str, Any]:
    """Read a thousand texts; return what they led to."""
    from tests.test_fuzz import run_of

    run = run_of(seed, CHUNK)
    return {
        "stages": run.stages,
        "codes": run.codes,
        "compiled": run.compiled,
        "failures": [f"seed {seed}, {text}" for text in run.failures],
    }


def told(state: dict[str, Any]) -> list[str]:
    """Return lines that tell what the texts of a state led to."""
    texts = state["chunks"] * CHUNK
    return [
        f"texts: {texts:,}, {texts / max(state['cpu_s'], 1e-9):,.0f} for each second of a core",
        "reached: " + ", ".join(f"{stage} {count:,}" for stage, count in state["stages"].items()),
        f"finding codes: {len(state['codes'])}; compiled: {state['compiled']:,}",
        f"peak of memory: {state['peak_mib']:.0f} MiB",
    ]


def main() -> int:
    """Read texts and print what they led to."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--texts", type=int, default=1_000_000, help="how many in all")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    parser.add_argument("--state", type=Path, default=Path("fuzz.json"), help="where it goes on")
    parser.add_argument("--read", type=int, nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.read:
        first, count = options.read
        return answer(range(first, first + count), read_chunk)
    state = SUMS.read(options.state)
    limits = Limits(time.monotonic() + options.seconds, HANGS_S, CHUNKS_A_PROCESS)
    sweep = Sweep(SUMS, state, options.state, -(-options.texts // CHUNK), limits)
    sweep.go(
        lambda numbers: [
            *(sys.executable, __file__, "--read"),
            *map(str, (FIRST_SEED + numbers[0], len(numbers))),
        ]
    )
    return finish(state, told(state))


if __name__ == "__main__":
    sys.exit(main())
