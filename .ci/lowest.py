"""What the run with the lowest versions needs, as `pyproject.toml` and this file have it.

python .ci/lowest.py constraints   # pip constraints that pin each dependency to its lower bound
python .ci/lowest.py left-out      # options of pytest: no library has a say in these tests
"""

import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

#: Tests that an older library can't break, each with what they hang on; all others run with the lowest
#: versions. Who writes such a test enters it here.
LEFT_OUT = {
    "tests/targets": "C and MicroPython, on compilers and simulators",
    "tests/test_walk_circuit.py": "ngspice",
    "tests/page/test_browser.py": "Chromium",
    "tests/board/test_listener.py": "MicroPython and a broker",
    "tests/board/test_child_files.py": "processes of the player",
    "tests/board/test_system.py": "processes of the player",
    "tests/board/test_worker.py": "processes of the player",
    "tests/board/test_worker_process.py": "processes of the player",
    "tests/cli/test_parallel.py": "processes of commands, some of them killed",
    "tests/cli/test_publish.py": "processes of the player",
    "tests/cli/test_run.py": "processes of the player",
    "tests/cli/test_run_under_fire.py": "processes of the player",
    "tests/formats/test_atomic.py": "the file system",
    "tests/formats/test_atomic_stops.py": "the file system, and processes that are killed",
    "tests/world": "the player in a simulated world: the standard library alone",
    "tests/kernel": "our own search in C beside the same by numpy",
    "tests/setpoints": "our own search for rows; compiled examples show the same rows with each numpy",
    "tests/oracle": "independent programs that judge our own search",
    "tests/drawn/test_planted.py": "mistakes that the laws of drawn schedules must find",
}


def constraints() -> list[str]:
    """Return a line for each dependency."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = []
    for requirement in [*project["dependencies"], *project["optional-dependencies"]["test"]]:
        found = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)(?:; .*)?", requirement)
        if found is None:
            raise SystemExit(f"{requirement!r} has no lower bound")
        lines.append(f"{found[1]}=={found[2]}")
    return lines


def left_out() -> list[str]:
    """Return an option for each path, all of which must be there."""
    missing = [path for path in LEFT_OUT if not (ROOT / path).exists()]
    if missing:  # pytest would say nothing
        raise SystemExit(f"there is no {', '.join(missing)}")
    return [f"--ignore={path}" for path in LEFT_OUT]


print(*{"constraints": constraints, "left-out": left_out}[sys.argv[1]](), sep="\n")  # noqa: T201
