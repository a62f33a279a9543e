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
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from benchmarks.sweep import Limits, Sums, Sweep, answer, finish  # noqa: E402

#: Schedules between two lines of the state file.
CHUNK = 100

#: Seeds of the tests are smaller; no schedule of theirs comes again.
FIRST_SEED = 1_000_000

#: So many hundreds are compiled by one process.
CHUNKS_A_PROCESS = 30

#: A hundred schedules take some ten seconds. [s]
HANGS_S = 3600.0

SUMS = Sums(
    counters=("codes", "refusals"),
    numbers=("written", "refused", "again", "verified"),
    sets=("used",),
)


def compile_chunk(number: int) -> dict[str, Any]:
    """Compile a hundred schedules; return what they led to."""
    from tests.drawn.run import run_of

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
    }


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
        return answer(options.compile, compile_chunk)
    state = SUMS.read(options.state)
    limits = Limits(time.monotonic() + options.seconds, HANGS_S, CHUNKS_A_PROCESS)
    sweep = Sweep(SUMS, state, options.state, -(-options.schedules // CHUNK), limits)
    sweep.go(
        lambda numbers: [sys.executable, __file__, "--compile", *map(str, numbers)],
        options.processes,
    )
    return finish(state, told(state))


if __name__ == "__main__":
    sys.exit(main())
