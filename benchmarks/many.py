"""Many tanks: one process against two, and against a cluster of two workers, as ratios of times in one run.

    python benchmarks/many.py [--tanks 200] [--runs 1] [--alone 20]

Generated tanks, each with days and zones of its own, are compiled for a month: all by one command with `--jobs 1`, with
`--jobs 2`, and by a scheduler and two workers on this machine, which run before it begins. Some are also compiled by a
command each; that time is scaled to all. These take turns, so that a busy machine slows all. Whether the folders hold
the same bytes is printed, too. Times are those of a clock, and those of processors, which depend less on what else
runs: what is added to those of one process is the overhead. A ratio of clock times below 0.5 is not to be had with two
processes, and where other work fills the cores there is none below 1. It runs on Linux and needs the extra `cluster`.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import random
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.cli.cluster_process import Cluster  # noqa: E402

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


def processors_s(cluster: Cluster) -> float:
    """Return the time of processors that the processes of a cluster have used so far. [s]"""
    ticks = 0
    for each in cluster.processes:
        fields = Path(f"/proc/{each.pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])  # utime, stime: proc(5)
    return ticks / os.sysconf("SC_CLK_TCK")


def compile_all(files: list[Path], out: Path, *more: str) -> tuple[float, float]:
    """Compile files into a folder each and return how long that took, by clock and by processors. [s]"""
    command = [sys.executable, "-m", "photoperiod", "compile", *map(str, files), *DATES, *more]
    began, used = time.perf_counter(), children_s()
    done = subprocess.run([*command, "-o", str(out)], capture_output=True, text=True, check=False)
    took = time.perf_counter() - began
    if done.returncode:
        raise SystemExit(done.stderr)
    wait_for_orphans()
    return took, children_s() - used


def wait_for_orphans() -> None:
    """Wait for what the command started and left: its time counts only then."""
    while True:
        left = [pid for pid in children() if pid not in KEPT]
        if not left:
            return
        for pid in left:
            os.waitpid(pid, 0)


#: Processes of our own that go on.
KEPT: set[int] = set()


def children() -> list[int]:
    """Return the processes whose parent is this one."""
    return [int(pid) for pid in Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()]


def children_s() -> float:
    """Return the time of processors that children, and theirs, have used until they ended. [s]"""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def one_by_one(files: list[Path], out: Path) -> tuple[float, float]:
    """Compile each file by a command of its own and return how long that took. [s]"""
    found = [compile_all([file], out / file.stem) for file in files]
    return sum(clock for clock, _ in found), sum(processors for _, processors in found)


def content(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


ALONE, ONE, TWO, CLUSTER = "a command each", "--jobs 1", "--jobs 2", "two workers"


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tanks", type=int, default=200)
    options.add_argument("--runs", type=int, default=1)
    options.add_argument("--alone", type=int, default=20)
    given = options.parse_args()
    # What a command leaves becomes a child of this process, so that its time is counted: prctl(2).
    pr_set_child_subreaper = 36
    ctypes.CDLL(None).prctl(pr_set_child_subreaper, 1, 0, 0, 0)
    times: dict[str, list[tuple[float, float]]] = {how: [] for how in (ALONE, ONE, TWO, CLUSTER)}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = [folder / f"tank-{number:03}.yaml" for number in range(given.tanks)]
        for number, file in enumerate(files):
            file.write_text(tank(number), encoding="utf-8")
        cluster = Cluster(folder)
        for worker in ("0", "1"):
            cluster.start(worker)
        KEPT.update(process.pid for process in cluster.processes)
        try:
            compile_all(files[:4], folder / "warm", "--cluster", cluster.address)  # imports
            is_same = True
            for _ in range(given.runs):
                made = [
                    turn(how, files, folder / "out", cluster, given.alone, times) for how in times
                ]
                whole = made[1]
                is_same &= all(each == whole for each in made[2:])
                is_same &= made[0].items() <= whole.items()
        finally:
            cluster.end()
    print(f"{given.tanks} tanks, {len(whole)} files, {given.runs} runs; same bytes: {is_same}")
    for how, base in ((ONE, ALONE), (TWO, ONE), (CLUSTER, ONE), (CLUSTER, TWO)):
        for what, at in (("clock", 0), ("processors", 1)):
            ratios = [a[at] / b[at] for a, b in zip(times[how], times[base], strict=True)]
            print(
                f"{how} / {base}, {what}: {statistics.median(ratios):.2f}"
                f" (from {min(ratios):.2f} to {max(ratios):.2f})"
            )
    if not is_same:
        raise SystemExit(1)


def turn(
    how: str,
    files: list[Path],
    out: Path,
    cluster: Cluster,
    alone: int,
    times: dict[str, list[tuple[float, float]]],
) -> dict[str, bytes]:
    """Compile all tanks in one way, keep how long that took, and return what was made."""
    before = processors_s(cluster)
    if how == ALONE:
        clock, processors = one_by_one(files[:alone], out)
        scale = len(files) / min(alone, len(files))
        clock, processors = clock * scale, processors * scale
    else:
        more = ("--cluster", cluster.address) if how == CLUSTER else how.split()
        clock, processors = compile_all(files, out, *more)
    busy = processors_s(cluster) - before if how == CLUSTER else 0.0
    times[how].append((clock, processors + busy))
    print(f"{how}: {clock:.1f} s by the clock, {processors + busy:.1f} s of processors", flush=True)
    made = content(out)
    shutil.rmtree(out)
    return made


if __name__ == "__main__":
    main()
