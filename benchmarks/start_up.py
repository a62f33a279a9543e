"""Cold starts as ratios within one run: what a user waits for beyond the imports themselves.

Run: python benchmarks/start_up.py

Our modules are compiled to bytecode first, as pip leaves them. On a busy machine the ratios of processor time
say more than those of clock time.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 15
EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "teaching-reef.yaml"

#: name, code for `python -c`, the yardstick it is divided by, the bar
RUNS = (
    ("import click", "import click", "", 0.0),
    ("import all four", "import click, yaml, jsonschema, numpy", "", 0.0),
    ("--help", "--help", "import click", 1.5),
    ("check, faults of shape", "check {faulty}", "import all four", 1.3),
    ("check, no faults", "check {good}", "import all four", 2.0),
    ("compile, four channels", "compile {good} -o {out}", "import all four", 2.5),
)


def seconds(command: str, bytecode: str) -> tuple[float, float]:
    """Return the clock time and the processor time of one cold run."""
    if command.startswith("import"):
        words = [sys.executable, "-c", command]
    else:
        words = [sys.executable, "-m", "photoperiod", *command.split()]
    places = {**os.environ, "PYTHONPYCACHEPREFIX": bytecode}
    places.pop("PYTHONDONTWRITEBYTECODE", None)
    begin, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, capture_output=True, check=False, env=places)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return time.perf_counter() - begin, cpu


def main() -> None:
    """Print medians and ratios; the runs take turns, so that a busy machine hits all alike."""
    with tempfile.TemporaryDirectory() as folder:
        faulty = Path(folder) / "faulty.yaml"
        text = EXAMPLE.read_text(encoding="utf-8")
        faulty.write_text(text.replace("between: line", "betwen: line"), encoding="utf-8")
        names = {"faulty": faulty, "good": EXAMPLE, "out": Path(folder) / "out"}
        times: dict[str, list[tuple[float, float]]] = {name: [] for name, *_ in RUNS}
        for number in range(ROUNDS + 1):
            for name, command, _, _ in RUNS:
                found = seconds(command.format(**names), str(Path(folder) / "bytecode"))
                if number:  # the first round makes the bytecode
                    times[name].append(found)
    median = {
        name: [statistics.median(each) for each in zip(*found, strict=True)]
        for name, found in times.items()
    }
    for name, _, yardstick, bar in RUNS:
        line = f"{name:24} {median[name][0] * 1000:6.0f} ms, {median[name][1] * 1000:6.0f} ms of processor"
        if yardstick:
            clock, cpu = (a / b for a, b in zip(median[name], median[yardstick], strict=True))
            line += f"  {clock:5.2f} x {yardstick}, {cpu:.2f} of processor"
        print(line + (f"  (bar {bar})" if bar else ""))


if __name__ == "__main__":
    main()
