"""Cold starts as ratios within one run: what a user waits for beyond the imports themselves.

Run: python benchmarks/start_up.py
"""

from __future__ import annotations

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
    ("check, no faults", "check {good}", "import all four", 0.0),
    ("compile, four channels", "compile {good} -o {out}", "import all four", 0.0),
)


def seconds(command: str) -> float:
    """Return the wall time of one cold run."""
    if command.startswith("import"):
        words = [sys.executable, "-c", command]
    else:
        words = [sys.executable, "-m", "photoperiod", *command.split()]
    begin = time.perf_counter()
    subprocess.run(words, capture_output=True, check=False)
    return time.perf_counter() - begin


def main() -> None:
    """Print medians and ratios; the runs take turns, so that a busy machine hits all alike."""
    with tempfile.TemporaryDirectory() as folder:
        faulty = Path(folder) / "faulty.yaml"
        text = EXAMPLE.read_text(encoding="utf-8")
        faulty.write_text(text.replace("between: line", "betwen: line"), encoding="utf-8")
        names = {"faulty": faulty, "good": EXAMPLE, "out": Path(folder) / "out"}
        times: dict[str, list[float]] = {name: [] for name, *_ in RUNS}
        for _ in range(ROUNDS):
            for name, command, _, _ in RUNS:
                times[name].append(seconds(command.format(**names)))
    median = {name: statistics.median(values) for name, values in times.items()}
    for name, _, yardstick, bar in RUNS:
        line = f"{name:24} {median[name] * 1000:6.0f} ms"
        if yardstick:
            line += f"  {median[name] / median[yardstick]:5.2f} x {yardstick}"
        print(line + (f"  (bar {bar})" if bar else ""))


if __name__ == "__main__":
    main()
