"""What a guard row costs: the least worst error with one beside that without, over the examples' days.

    python benchmarks/guard_rows.py

Every channel whose rows hold a relay state that makes it dark, with lines between rows; of natural days an
equinox and both solstices. Both tables have the same number of rows. The ratios are the same on every machine.
"""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from photoperiod import load
from photoperiod.days.day_curves import DayCurves
from photoperiod.drive.grid import Between, TimeGrid
from photoperiod.program.day_fit import plan_targets
from photoperiod.setpoints.fit import Target, fit

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
DATES = (dt.date(2027, 3, 20), dt.date(2027, 6, 21), dt.date(2027, 12, 21))
ROWS = (8, 10, 12, 16)


def channel_days() -> Iterator[tuple[str, Target, TimeGrid]]:
    """Yield name, target and grid of each channel and day."""
    for file in sorted(EXAMPLES.glob("*.yaml")):
        schedule = load(file).schedule
        if schedule.controller.times.between != Between.LINE:
            continue
        days = DayCurves(schedule)
        for date in DATES if schedule.needs_dates else (None,):
            curves = days.by_clock if date is None else days.curves(date)
            for id, target in plan_targets(schedule, curves).items():
                if target.path.dark_by_row and (target.reachable > 0).any():
                    yield f"{file.stem} {id} {date or ''}", target, schedule.controller.times


def main() -> None:
    """Print the largest and the median price for each number of rows."""
    days = list(channel_days())
    for rows in ROWS:
        prices = []
        for name, target, times in days:
            (plain,) = fit([target], times, rows)
            (guarded,) = fit([replace(target, is_guarded=True)], times, rows)
            if len(guarded.rows) <= rows and plain.certificate.error > 0:
                without, having = plain.certificate.error, guarded.certificate.error
                prices.append((having / without, without, having, name))
        price, without, having, name = max(prices)
        print(
            f"{rows} rows, {len(prices)} channel-days: median {statistics.median(p[0] for p in prices):.2f} x,"
            f" most {price:.2f} x ({without * 100:.2f} % to {having * 100:.2f} %, {name.strip()})"
        )


if __name__ == "__main__":
    main()
