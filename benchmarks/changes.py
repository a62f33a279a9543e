"""What changes over dates cost, beside a compile of one date of the same schedule.

    python benchmarks/changes.py

Each case is compiled over a year; the times are ratios within one run, by the processor's time. Fits of
channels are counted: equal days share one.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Mapping
from pathlib import Path

from photoperiod.api import load_text
from photoperiod.program import day_fit
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "new-corals.yaml"

YEAR = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))

#: By name, what stands under `changes`.
CASES: Mapping[str, tuple[str, ...]] = {
    "no change": (),
    "acclimation, 4 weeks": (
        "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 60, every_days: 7}",
    ),
    "acclimation, 28 days": (
        "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 60, every_days: 1}",
    ),
    "moved hours, 36 days": (
        "{kind: moved-hours, from_date: 2027-07-01, minutes_per_day: 10, minutes: 360}",
    ),
    "dark days, 12 times": tuple(
        f"{{kind: dark-days, from_date: 2027-{month:02}-07, days: 3}}" for month in range(1, 13)
    ),
}

_fits = 0
_fit_channels = day_fit.fit_channels


def _counting(schedule, targets, known=None):  # type: ignore[no-untyped-def]
    global _fits
    _fits += sum(
        1
        for id, target in targets.items()
        if not (known and id in known and known[id].target is target)
    )
    return _fit_channels(schedule, targets, known)


def _run(changes: tuple[str, ...], span: DateSpan) -> tuple[float, int, int]:
    """Return the processor's time [s], how many channels were fitted, and how many tables came out."""
    global _fits
    text = EXAMPLE.read_text(encoding="utf-8").split("changes:\n")[0]
    if changes:
        text += "changes:\n" + "".join(f"  - {each}\n" for each in changes)
    schedule = load_text("benchmark.yaml", text.encode()).schedule
    _fits, begin = 0, time.process_time()
    program = compile_program(schedule, span)
    return time.process_time() - begin, _fits, len(program.tables)


def main() -> None:
    """Print a line for each case."""
    day_fit.fit_channels = _counting
    one = DateSpan(YEAR.first, YEAR.first)
    _run((), one)  # what is looked up once
    first, *_ = _run((), one)
    print(f"{'case':24} {'× one date':>10} {'channel fits':>13} {'tables':>7}")
    for name, changes in CASES.items():
        taken, fits, tables = _run(changes, YEAR)
        print(f"{name:24} {taken / first:10.1f} {fits:13} {tables:7}")


if __name__ == "__main__":
    main()
