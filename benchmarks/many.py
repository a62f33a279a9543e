"""Many tanks: one process against two, as ratios of times in one run.

    python benchmarks/many.py [--tanks 200] [--runs 3]

Generated tanks, each with days and zones of its own, are compiled for a month: one at a time by a command each, all
by one command with `--jobs 1`, all with `--jobs 2`. These take turns, so that a busy machine slows all. Whether
the folders hold the same bytes is printed, too. Times are those of a clock, and those of processors, which depend
less on what else runs: what two processes add to them is their overhead. A ratio of clock times below 0.5 is not to
be had with two processes, and where other work fills the cores there is none below 1. It runs on Linux and macOS.
"""

from __future__ import annotations

import argparse
import random
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DATES = ("--from", "2027-03-01", "--to", "2027-03-31")

HEAD = """\
schedule: 1
tank: tank-{number}
title: Teaching tank {number}
controller:
  clock: standard
  setpoints_per_channel: {rows}
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: 12, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: square-law}}
    floor: {{volts: 1.0, light_percent: 1}}
    full_volts: 10.0
    dark: {{kind: relay}}
zones:
  crest: {{dli: [2, 16], ppfd_max: 400}}
channels:
"""

CHANNEL = """\
  channel-{n}:
    ballast: pair
    full_ppfd: {{zones: {{crest: {ppfd}}}}}
    day:
      kind: ramps
      dawn: {{start: '{dawn}', minutes: {rise}, shape: {shape}}}
      peaks: [{{light_percent: {peak}}}]
      dusk: {{end: '{dusk}', minutes: {fall}, shape: {shape}}}
"""


def tank(number: int) -> str:
    """Return the schedule of a tank: what it is hangs on its number alone."""
    draw = random.Random(number)
    parts = [HEAD.format(number=number, rows=draw.choice((8, 10, 12, 16)))]
    for n in range(draw.randint(1, 4)):
        parts.append(
            CHANNEL.format(
                n=n, ppfd=draw.randint(20, 90), shape=draw.choice(("linear", "sine", "smooth")),
                dawn=f"{draw.randint(7, 9):02}:{draw.randrange(0, 60, 5):02}",
                dusk=f"{draw.randint(19, 21):02}:{draw.randrange(0, 60, 5):02}",
                rise=draw.randrange(30, 150, 10), fall=draw.randrange(30, 150, 10),
                peak=draw.randint(40, 95),
            )
        )  # fmt: skip
    return "".join(parts)


def compile_all(files: list[Path], out: Path, *more: str) -> tuple[float, float]:
    """Compile files into a folder each and return how long that took, by clock and by processors. [s]"""
    command = [sys.executable, "-m", "photoperiod", "compile", *map(str, files), *DATES, *more]
    began, used = time.perf_counter(), processors_s()
    done = subprocess.run([*command, "-o", str(out)], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    return time.perf_counter() - began, processors_s() - used


def processors_s() -> float:
    """Return the time of processors that children, and theirs, have used. [s]"""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def one_by_one(files: list[Path], out: Path) -> tuple[float, float]:
    """Compile each file by a command of its own and return how long that took. [s]"""
    found = [compile_all([file], out / file.stem) for file in files]
    return sum(clock for clock, _ in found), sum(processors for _, processors in found)


def content(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tanks", type=int, default=200)
    options.add_argument("--runs", type=int, default=3)
    given = options.parse_args()
    times: dict[str, list[tuple[float, float]]] = {
        "a command each": [],
        "--jobs 1": [],
        "--jobs 2": [],
    }
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = [folder / f"tank-{number:03}.yaml" for number in range(given.tanks)]
        for number, file in enumerate(files):
            file.write_text(tank(number), encoding="utf-8")
        made: list[dict[str, bytes]] = []
        for _ in range(given.runs):
            for how, spent in times.items():
                out = folder / "out"
                is_alone = how == "a command each"
                took = one_by_one(files, out) if is_alone else compile_all(files, out, *how.split())
                spent.append(took)
                made.append(content(out))
                shutil.rmtree(out)
    is_same = all(each == made[0] for each in made)
    print(f"{given.tanks} tanks, {len(made[0])} files, {given.runs} runs; same bytes: {is_same}")
    for how, base in (
        ("--jobs 1", "a command each"),
        ("--jobs 2", "--jobs 1"),
        ("--jobs 2", "a command each"),
    ):
        for what, at in (("clock", 0), ("processors", 1)):
            ratios = [a[at] / b[at] for a, b in zip(times[how], times[base], strict=True)]
            print(
                f"{how} / {base}, {what}: {statistics.median(ratios):.2f}"
                f" (from {min(ratios):.2f} to {max(ratios):.2f})"
            )
    if not is_same:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
