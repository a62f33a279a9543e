"""How soon a saved schedule is on the page of `watch`, in times of one `compile` of the same day.

    python benchmarks/watch.py [--runs 9] [FILE]

Both are measured in turns, so that a busy machine slows both. A change counts as on the page when a browser
that asks all the time gets it.
"""

from __future__ import annotations

import argparse
import re
import statistics
import subprocess
import sys
import tempfile
import time
from http.client import HTTPConnection
from pathlib import Path

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "smallest.yaml"


def page(port: int) -> bytes:
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", "/")
    return connection.getresponse().read()


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("file", nargs="?", type=Path, default=EXAMPLE)
    options.add_argument("--runs", type=int, default=9)
    given = options.parse_args()
    text = given.file.read_text(encoding="utf-8")
    program = [sys.executable, "-m", "photoperiod"]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "tank.yaml")
        path.write_text(text, encoding="utf-8")
        watch = subprocess.Popen(
            [*program, "watch", path, "--port", "0"], stdout=subprocess.PIPE, text=True
        )
        assert watch.stdout is not None
        port = int(re.findall(r":(\d+)/", watch.stdout.readline())[0])
        ratios = []
        for number in range(given.runs):
            began = time.monotonic()
            subprocess.run(
                [*program, "compile", path, "-o", Path(folder, "out")],
                capture_output=True,
                check=True,
            )
            compile_s = time.monotonic() - began
            title = f"title: Run {number} of the benchmark"
            began = time.monotonic()
            path.write_text(re.sub(r"(?m)^title:.*$", title, text), encoding="utf-8")
            while title.removeprefix("title: ").encode() not in page(port):
                time.sleep(0.01)
            ratios.append((time.monotonic() - began) / compile_s)
        watch.terminate()
        watch.wait()
    print(
        f"a save is on the page after {statistics.median(ratios):.2f} of a compile"
        f" (from {min(ratios):.2f} to {max(ratios):.2f} in {given.runs} runs); the bar is 2"
    )


if __name__ == "__main__":
    main()
