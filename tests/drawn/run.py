"""Many drawn schedules, one after the other: what they led to, and what was broken."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from photoperiod.setpoints.fit import remembered
from tests.conftest import ROOT
from tests.drawn import reach
from tests.drawn.compiled import Written, compile_drawn, put_readings
from tests.drawn.draw import Drawn, draw
from tests.drawn.laws import broken

#: Of so many schedules one is verified without the code of the fit, and one compiled again by a command.
VERIFY_EVERY, AGAIN_EVERY = 10, 100

#: Another machine, as far as that can be: other hashes, time zone and language, and no kernel.
OTHER_MACHINE = {
    "PYTHONHASHSEED": "77",
    "TZ": "Pacific/Apia",
    "LC_ALL": "tr_TR.UTF-8",
    "PHOTOPERIOD_KERNEL": "numpy",
}

#: A command that takes longer hangs. [s]
HANGS_S = 900.0

#: Memory beside the disk where there is some: most schedules need no file.
FAST_FOLDER = "/dev/shm" if Path("/dev/shm").is_dir() else None


@dataclass
class Run:
    """What many schedules led to."""

    failures: list[str] = field(default_factory=list)
    written: int = 0
    refused: int = 0
    again: int = 0
    verified: int = 0
    codes: Counter[str] = field(default_factory=Counter)
    refusals: Counter[str] = field(default_factory=Counter)
    used: set[str] = field(default_factory=set)


def run_of(first: int, count: int) -> Run:
    """Take some seeds through `compile`, and return what they led to."""
    run = Run()
    with tempfile.TemporaryDirectory(dir=FAST_FOLDER) as folder:
        for seed in range(first, first + count):
            remembered.forget()  # what one schedule leaves behind helps no other one, and takes no memory
            try:
                _run_one(run, draw(seed), Path(folder))
            except Exception as error:
                where = traceback.extract_tb(error.__traceback__)[-1]
                told = (
                    f"{type(error).__name__} in {Path(where.filename).name}:{where.lineno}: {error}"
                )
                run.failures.append(f"seed {seed}: {told}")
    return run


def _run_one(run: Run, drawn: Drawn, folder: Path) -> None:
    run.used |= reach.used(drawn.data) | reach.used(drawn.own)
    written = compile_drawn(drawn, folder)
    for each in written:
        run.codes += each.codes
        run.refusals += each.refusals
        run.refused += each.is_refused
        run.written += not each.is_refused
        if each.is_refused:
            continue
        is_thorough = drawn.seed % VERIFY_EVERY == 0
        run.verified += is_thorough
        found = broken(each, is_thorough=is_thorough)
        run.failures += [f"seed {drawn.seed}: {fault}" for fault in found]
    if drawn.seed % AGAIN_EVERY == 0:
        run.again += 1
        run.failures += [f"seed {drawn.seed}: {fault}" for fault in differs(written[0], folder)]


def differs(written: Written, folder: Path) -> list[str]:
    """Compile a schedule again, by a command on another machine; return what is not the same."""
    drawn, out = written.drawn, folder / "out"
    put_readings(drawn, folder)
    (folder / drawn.name).write_bytes(drawn.text.encode())
    command = [sys.executable, "-m", "photoperiod", "compile", drawn.name, "-o", str(out)]
    if written.dates is not None:
        command += ["--from", str(written.dates[0]), "--to", str(written.dates[1])]
    environment: Mapping[str, str] = {**os.environ, **OTHER_MACHINE, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=HANGS_S
    )
    found = {path.name: path.read_bytes() for path in out.iterdir()} if out.is_dir() else {}
    for path in (*(out.iterdir() if out.is_dir() else ()), folder / drawn.name):
        path.unlink()
    if out.is_dir():
        out.rmdir()
    wanted = 1 if written.is_refused else 0
    if done.returncode != wanted or "Traceback" in done.stderr:
        return [f"the command ends with {done.returncode}, not {wanted}: {done.stderr[-300:]}"]
    if found.keys() != written.files.keys():
        return [f"the command writes {sorted(found)}"]
    return [
        f"the command writes another {n}" for n, raw in found.items() if raw != written.files[n]
    ]
