"""How time, memory and proof grow with what a schedule asks for: rows, channels, dates, levels, times.

    python benchmarks/growth.py [--markdown] [word ...]

With words only the rows whose names hold one of them. `--markdown` prints `docs/speed.md`. Each row is a
process of its own, one after the other, with limits on time and memory; it first fits the plain day, so that
its time is told in times of that, both in processor time. What a row reaches is told as its tables tell it.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

# Small matrices gain nothing from threads, and threads take memory.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

#: A row that takes more processor time is stopped [s].
MOST_S = 30

#: A row that asks for more address space is stopped [MB]. Some ask for much of which they use little.
MOST_MB = 8000

#: The plain day is fitted so often; the least time counts.
PLAIN_RUNS = 3

#: The first date of rows with dates.
FIRST = dt.date(2027, 1, 1)

#: Days of channels, by the names of `CURVES` in `benchmarks/setpoints.py`.
DAYS = ("two peaks", "trapezoid", "half-sine", "midday bump")


@dataclass(frozen=True, kw_only=True)
class Case:
    """A row: what is fitted. What is not given is that of the plain day.

    ``dates`` is 0 for days without dates; else the benchmark year with a moon is compiled for so many, or
    without one where ``moon`` is false.
    """

    axis: str
    name: str
    rows: int = 10
    channels: int = 1
    is_shared: bool = False
    unit: str = "percent"
    level_step: str = "1"
    bits: int = 12
    response: str = "square-law"
    floor_light: float = 0.01
    time_step_s: int = 60
    dark: str = "relay"
    dates: int = 0
    moon: bool = True


PLAIN = Case(axis="the plain day", name="10 rows, 1 channel, levels of 1 %, steps of 1 min")


def cases() -> Iterator[Case]:
    """Yield the rows of the table."""
    yield PLAIN
    for rows in (4, 6, 16, 32, 64, 128):
        yield Case(axis="rows", name=f"{rows} rows", rows=rows)
    for channels in (2, 4, 16, 64):
        yield Case(
            axis="channels, each with times of its own", name=f"{channels} own", channels=channels
        )
    shared: dict[str, Any] = {"axis": "channels with one column of times", "is_shared": True}
    for channels, rows in ((2, 10), (4, 16), (4, 24), (6, 24), (8, 24), (16, 24)):
        yield Case(name=f"{channels} shared, {rows} rows", channels=channels, rows=rows, **shared)
    yield Case(name="2 shared, steps of 10 s", channels=2, time_step_s=10, **shared)
    for step in ("5", "0.5", "0.1", "0.05", "0.01"):
        yield Case(axis="level steps", name=f"levels of {step} %", level_step=step, bits=16)
    for bits in (8, 12, 14, 16):
        for law, floor in (("linear", 0.01), ("log-law", 0.001)):
            yield Case(
                axis="converter codes", name=f"{bits}-bit codes, {law}",
                unit="code", bits=bits, response=law, floor_light=floor,
            )  # fmt: skip
    for seconds in (900, 300, 30, 20, 12, 10, 5, 1):
        yield Case(axis="time steps", name=f"steps of {seconds} s", time_step_s=seconds)
    for name, more in {
        "never dark, 6 rows": {"rows": 6},
        "never dark, 10 rows": {},
        "never dark, 16-bit codes": {"unit": "code", "bits": 16},
        "never dark, 2 shared": {"channels": 2, "is_shared": True, "rows": 12},
    }.items():
        yield Case(axis="never dark", name=name, dark="never", **more)  # type: ignore[arg-type]
    for dates in (1, 30, 365):
        yield Case(axis="dates", name=f"four suns, {_dates(dates)}", dates=dates, moon=False)
    for dates in (30, 365):
        yield Case(axis="dates", name=f"three suns and a moon, {_dates(dates)}", dates=dates)


def _dates(number: int) -> str:
    return "1 date" if number == 1 else f"{number} dates"


# A row, within its process ----------------------------------------------------------------------------


def targets_of(case: Case) -> tuple[list[Any], Any]:
    """Return the targets of a row and its grid of times."""
    from setpoints import CURVES

    from photoperiod.curves.curve import day_seconds
    from photoperiod.drive.ballast import BallastCurve
    from photoperiod.drive.converter import Converter
    from photoperiod.drive.grid import LevelGrid, RelayMode, TimeGrid
    from photoperiod.drive.light_path import LightPath
    from photoperiod.setpoints.problem import Target

    path = LightPath(
        levels=LevelGrid(
            unit=case.unit, step=Fraction(case.level_step), every_seconds=1, rounding="half-up"
        ),
        converter=Converter.nominal(case.bits, 10.0, 10.0),
        ballast=BallastCurve(
            kind=case.response, floor_volts=1.0, full_volts=10.0, floor_light=case.floor_light,
            dark=case.dark,
        ),
        relay=RelayMode(kind="column"),
    )  # fmt: skip
    found = []
    for number in range(case.channels):
        curve = CURVES[DAYS[number % len(DAYS)]]
        # Days of one shape differ in their brightness, so that none is fitted for another.
        wanted = curve.light(day_seconds()) * (1 - 0.002 * (number // len(DAYS)))
        reachable = path.ballast.reachable(wanted, path.most_light)
        corners = tuple(sorted(curve.corners()))
        found.append(
            Target(name=f"channel-{number}", reachable=reachable, corners=corners, path=path)
        )
    return found, TimeGrid(step_s=case.time_step_s, between="line", after_last_row="wrap")


def fitted(case: Case) -> list[Any]:
    """Return the tables of a row without dates."""
    from photoperiod.setpoints.fit import fit_anew

    targets, times = targets_of(case)
    groups = [targets] if case.is_shared else [[each] for each in targets]
    return [found for group in groups for found in fit_anew(group, times, case.rows)]


def proof_of(found: Sequence[Any]) -> dict[str, Any]:
    """Return what some tables tell of themselves, the worst of them where they differ."""
    proofs = [each.certificate for each in found]
    gaps = [
        (proof.error, proof.bound)
        if proof.joint_error is None or proof.joint_bound is None
        else (proof.joint_error, proof.joint_bound)
        for proof in proofs
    ]
    error, bound = max(gaps, key=lambda gap: (gap[0] + 1e-9) / (gap[1] + 1e-9))
    return {
        "methods": sorted({str(each.method) for each in found}),
        "is_best": all(proof.is_best for proof in proofs),
        "is_closest": all(proof.is_closest for proof in proofs),
        "error": error,
        "bound": bound,
    }


def year_of(case: Case) -> dict[str, Any]:
    """Return what is told of the tables of a row with dates."""
    from year import schedules

    from photoperiod.api import load_text
    from photoperiod.program.dated_tables import compile_program
    from photoperiod.program.dates import DateSpan

    name = "three suns and a moon" if case.moon else "four suns"
    schedule = load_text("year.yaml", schedules()[name].encode()).schedule
    last = FIRST + dt.timedelta(days=case.dates - 1)
    begin = time.process_time()
    program = compile_program(schedule, DateSpan(FIRST, last))
    took_s = time.process_time() - begin
    tables = [c.fit for table in program.tables for c in table.channels.values()]
    counts = [[each.tables, each.fewest] for each in program.season_counts]
    return {"cpu_s": took_s, "counts": counts, "tables": len(program.tables), **proof_of(tables)}


def in_child(case: Case) -> dict[str, Any]:
    """Return what is measured of a row, and its tables."""
    plain = []
    for _ in range(PLAIN_RUNS):
        begin = time.process_time()
        fitted(PLAIN)
        plain.append(time.process_time() - begin)
    if case.dates:
        return {"plain_s": min(plain), **year_of(case)}
    begin = time.process_time()
    found = fitted(case)
    took_s = time.process_time() - begin
    return {
        "plain_s": min(plain),
        "cpu_s": took_s if case != PLAIN else min(plain),
        "rows": [[[row.second, row.count, row.relay] for row in each.rows] for each in found],
        "proofs": [asdict(each.certificate) for each in found],
        **proof_of(found),
    }


# Rows, each in a process of its own ---------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of a row: ``told`` is empty if it was stopped, and ``stopped`` says why."""

    case: Case
    told: dict[str, Any]
    peak_mb: float
    stopped: str = ""

    @property
    def ratio(self) -> float:
        """Processor time of the row in fits of the plain day."""
        return float(self.told["cpu_s"] / self.told["plain_s"])


def measured(case: Case, most_s: float = MOST_S, most_mb: float = MOST_MB) -> Outcome:
    """Return what a row takes and tells, in a process of its own with limits."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (int(most_s), int(most_s) + 5))
        resource.setrlimit(resource.RLIMIT_AS, (int(most_mb * 1e6), int(most_mb * 1e6)))

    command = [sys.executable, str(Path(__file__).resolve()), "--child", json.dumps(asdict(case))]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=limit
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        out, faults = process.stdout.read(), process.stderr.read().decode(errors="replace")
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    peak_mb = used.ru_maxrss * 1024 / 1e6
    if process.returncode == 0:
        return Outcome(case=case, told=json.loads(out), peak_mb=peak_mb)
    if process.returncode < 0 and used.ru_utime + used.ru_stime >= most_s - 1:
        why = f"stopped after {most_s:g} s of processor time"
    elif "MemoryError" in faults or "_ArrayMemoryError" in faults:
        why = f"stopped: it asked for more than {most_mb:g} MB"
    else:
        last = faults.strip().splitlines()[-1:] or ["no words"]
        why = f"ended with {process.returncode}: {last[0][:80]}"
    return Outcome(case=case, told={}, peak_mb=peak_mb, stopped=why)


# What is printed ------------------------------------------------------------------------------------------

HEAD = ("what is asked for", "time", "memory", "method", "best?", "worst error", "at least")

PAGE = """\
# Speed, memory and proof

How time, memory and proof grow with what a schedule asks for. `python benchmarks/growth.py --markdown` made this
page, with the {kernel} kernel, Python {python} and numpy {numpy}. All rows but those of *Dates* fit the tables of one
day.

- **time**: processor time, in fits of the plain day: 10 rows, one channel, levels of 1 %, steps of 1 min, square
  law. A machine of 2026 takes some hundredths of a second for it. Each row has a plain day of its own, fitted
  beside it.
- **memory**: the most that the process held, with Python and the libraries, which take some {bare} MB.
- **method**: `exact` tables come from the exact search; `best-found` ones from a search whose work ran out;
  `coarser-times` from a coarser grid of times; `simplification` from adding row by row; `forced` have no rows
  to choose.
- **best?**: whether it is proven that no table within the rows is more than 5 % better (`is_best`). *Not closest*:
  which of such tables is closest to the plan in the mean took too much work to find (`is_closest`).
- **worst error**, and what is proven that **at least** any table has: in % of full light; of channels that
  share times, in % of the peak of the channel. Where tables differ, those of the worst gap.

A row that takes more than {most_s} s of processor time or {most_mb} MB of address space is stopped, and says so. Rows
that a day has no use for are left out of its table. The days are those of `benchmarks/setpoints.py`; neighbouring
channels have different days. Rows with dates are those of `benchmarks/year.py`.
"""


def cells(outcome: Outcome) -> tuple[str, ...]:
    """Return the cells of a row."""
    name, told = outcome.case.name, outcome.told
    memory = f"{outcome.peak_mb:.0f} MB"
    if not told:
        return name, "-", memory, outcome.stopped, "-", "-", "-"
    best = "yes" if told["is_best"] else "no"
    if told["is_best"] and not told["is_closest"]:
        best = "yes, not closest"
    return (
        name + counted(told), f"{outcome.ratio:.1f}" if outcome.ratio < 10 else f"{outcome.ratio:.0f}",
        memory, ", ".join(told["methods"]), best, f"{told['error'] * 100:.3f}",
        f"{told['bound'] * 100:.3f}",
    )  # fmt: skip


def counted(told: dict[str, Any]) -> str:
    """Return how many tables dates have, and how many are needed at least for those that share them."""
    if "tables" not in told:
        return ""
    parts = [f"{tables}, at least {fewest}" for tables, fewest in told["counts"]]
    return f" (tables: {told['tables']}; by their errors: {' and '.join(parts)})"


def markdown(outcomes: Sequence[Outcome]) -> str:
    """Return the page."""
    import platform

    import numpy as np

    from photoperiod.kernel import which

    bare_mb = min(each.peak_mb for each in outcomes)
    lines = [
        PAGE.format(
            kernel="numpy" if which.compiled() is None else "compiled",
            python=platform.python_version(), numpy=np.__version__, bare=round(bare_mb / 10) * 10,
            most_s=MOST_S, most_mb=MOST_MB,
        )
    ]  # fmt: skip
    axis = ""
    for each in outcomes:
        if each.case.axis != axis:
            axis = each.case.axis
            lines += ["", f"## {axis[0].upper()}{axis[1:]}", "", f"| {' | '.join(HEAD)} |"]
            lines += ["|" + " --- |" * len(HEAD)]
        lines.append(f"| {' | '.join(cells(each))} |")
    return "\n".join(lines).replace("\n\n\n", "\n\n") + "\n"


def main() -> None:
    """Measure the rows and print them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--child", default="")
    parser.add_argument("words", nargs="*")
    asked = parser.parse_args()
    if asked.child:
        print(json.dumps(in_child(Case(**json.loads(asked.child)))))
        return
    outcomes = []
    for case in cases():
        if asked.words and not any(word in case.name for word in asked.words):
            continue
        outcomes.append(measured(case))
        line = "  ".join(cells(outcomes[-1]))
        print(line, file=sys.stderr if asked.markdown else sys.stdout, flush=True)
    if asked.markdown:
        print(markdown(outcomes), end="")


if __name__ == "__main__":
    main()
