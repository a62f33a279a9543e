"""What many dates cost beside one: natural days, in ratios of one run.

    python benchmarks/year.py [days]

Prints, for a quarter of the dates and for all of them: tables, time in exact fits of one channel-day
on this machine, time a date, and the peak of memory. Cost should be linear in dates: the last ratio
should be about 1. Then the time that it takes where other cores help, beside that of this process alone.
"""

from __future__ import annotations

import datetime as dt
import resource
import sys
import time
from pathlib import Path

from photoperiod.api import load_text
from photoperiod.cli.parallel import helpers
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.setpoints.fit import remembered

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
FIRST = dt.date(2027, 1, 1)

#: Four channels on the sun of the harbour; ten rows, a minute, 1 %.
CHANNELS = "".join(
    f"  sun-{n}:\n    ballast: pair\n    full_ppfd: {{zones: {{crest: {60 + n}}}}}\n"
    f"    day: {{kind: sun, peak_light_percent: {70 + 5 * n}}}\n"
    for n in range(4)
)


def schedules() -> dict[str, str]:
    """The schedules that are timed."""
    natural = (EXAMPLES / "natural-year.yaml").read_text(encoding="utf-8")
    head = natural.split("zones:\n")[0].replace("channels: 3", "channels: 4")
    head = head.replace("setpoints_per_channel: 12", "setpoints_per_channel: 10")
    head = head.replace("unit: millivolts, step: 20", "unit: percent, step: 1")
    head = head[: head.index("  moon-strip:")] + "\n"
    suns = f"{head}zones:\n  crest: {{}}\n\nchannels:\n{CHANNELS}"
    moon = natural[natural.index("  moon:\n") :].replace("crest: 0.5", "crest: 0.4")
    strip = natural[natural.index("  moon-strip:") : natural.index("zones:\n")]
    three = CHANNELS[: CHANNELS.index("  sun-3:")]
    return {
        "four suns": suns,
        "three suns and a moon": f"{head.rstrip()}\n{strip}zones:\n  crest: {{}}\n\nchannels:\n{three}{moon}",
    }


def timed(text: str, days: int, jobs: int | None = 1) -> tuple[float, int]:
    """Return the seconds it takes to compile some dates, and how many tables there are."""
    schedule = load_text("year.yaml", text.encode()).schedule
    span = DateSpan(FIRST, FIRST + dt.timedelta(days=days - 1))
    remembered.forget()
    begin = time.perf_counter()
    with helpers(jobs) as others:
        program = compile_program(schedule, span, helpers=others)
    return time.perf_counter() - begin, len(program.tables)


def main() -> None:
    """Time the schedules."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 365
    for name, text in schedules().items():
        timed(text, 1)
        one = min(timed(text, 1)[0] for _ in range(3)) / 4
        quarter, fewer = timed(text, max(days // 4, 1))
        whole, tables = timed(text, days)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{name}: {days} dates, {tables} tables ({fewer} in a quarter), {whole:.1f} s ="
            f" {whole / one:.0f} fits of a channel-day, {whole / one / days:.2f} a date; per date beside"
            f" a quarter of them {whole / quarter / 4:.2f} x; peak {peak:.0f} MiB"
        )
        helped, _ = timed(text, days, jobs=None)
        print(f"  on all cores {helped:.1f} s, {helped / whole:.2f} x")


if __name__ == "__main__":
    main()
