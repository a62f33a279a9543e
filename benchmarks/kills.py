"""SIGKILL for a real player, again and again, at any moment: lamp and log must stay what they are.

python benchmarks/kills.py --kills 1000
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.board.process import kill_often  # noqa: E402


def main() -> None:
    """Kill, and tell how often it went well; what goes wrong ends it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    began_s = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        done = kill_often(Path(folder), options.kills, options.seed)
    print(
        f"{done} kills, {time.monotonic() - began_s:.0f} s; the lamp did not move, the log is whole"
    )


if __name__ == "__main__":
    main()
