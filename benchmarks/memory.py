"""The most memory that a command takes, for the widest schedules that the language admits.

    python benchmarks/memory.py [word ...]

With words only the cases whose names hold one of them. Each case is a process of its own, one after the
other, and prints its peak of memory, its time, and how it ended. The bound is 400 MB. Peaks depend little
on the machine; times do.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"

#: No command should hold more [MB].
MOST_MB = 400

#: A case that takes longer is stopped; its peak until then is printed [s].
MOST_S = 900

ONE_DATE = ("--date", "2027-06-01")
YEAR = ("--from", "2027-01-01", "--to", "2027-12-31")

HEAD = """\
schedule: 1
tank: widest
controller:
  clock: standard
  setpoints_per_channel: {rows}
  shared_times: {shared}
  time_step_minutes: {step_minutes}
  between: {between}
  after_last_row: {after}
  relay: {{kind: column}}
  emits: {{unit: {unit}, step: {step}, every_seconds: {every}, rounding: half-up}}
  converter: {{kind: nominal, bits: {bits}, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: {response}}}
    floor: {{volts: {floor_volts}, light_percent: {floor_light}}}
    full_volts: 10.0
    dark: {{kind: {dark}}}
"""

#: Days that differ in all that costs rows: two peaks, a plain day, a half-sine, a dim night.
DAYS = (
    "{kind: ramps, dawn: {start: '09:00', minutes: 75, shape: sine}, peaks: [{light_percent: 70},"
    " {from: '13:00', minutes: 60, light_percent: 85, shape: smooth}, {from: '15:00', minutes: 60,"
    " light_percent: 70, shape: smooth}], dusk: {end: '21:00', minutes: 90, shape: sine}}",
    "{kind: ramps, dawn: {start: '08:30', minutes: 60}, peaks: [{light_percent: 80}],"
    " dusk: {end: '20:30', minutes: 60}}",
    "{kind: ramps, dawn: {start: '07:00', minutes: 360, shape: sine}, peaks: [{light_percent: 100}],"
    " dusk: {end: '19:00', minutes: 360, shape: sine}}",
    "{kind: ramps, dawn: {start: '06:00', minutes: 300, shape: perceptual}, peaks: [{light_percent: 8}],"
    " dusk: {end: '23:00', minutes: 300, shape: perceptual}}",
)


def schedule(channels: int = 1, tubes: str = "", zones: int = 0, **controller: object) -> str:
    """Return a schedule; what is not given of the controller is usual."""
    usual: dict[str, object] = {
        "rows": 10, "shared": "false", "step_minutes": 1, "between": "line", "after": "wrap",
        "unit": "percent", "step": 1, "every": 1, "bits": 12, "response": "square-law",
        "floor_volts": 1.0, "floor_light": 1, "dark": "relay",
    }  # fmt: skip
    parts = [HEAD.format(**usual | controller), tubes]
    if zones:
        parts.append(
            "zones:\n" + "".join(f"  zone-{z}: {{ppfd_max: 5000}}\n" for z in range(zones))
        )
    parts.append("channels:\n")
    for n in range(channels):
        parts.append(f"  channel-{n}:\n    ballast: pair\n    day: {DAYS[n % len(DAYS)]}\n")
        if zones:
            seen = ", ".join(f"zone-{z}: {1 + n}" for z in range(zones))
            parts.append(f"    full_ppfd: {{zones: {{{seen}}}}}\n")
        if tubes:
            parts.append(f"    tubes: [tube-{n}]\n")
    return "".join(parts)


FINE_CODES = {"unit": "code", "step": 1, "bits": 16}
FINE_MILLIVOLTS = {"unit": "millivolts", "step": 1, "bits": 16}
FINEST_LEVELS = {"unit": "percent", "step": 0.001, "bits": 16}  # 100,000 levels
LOG = {"response": "log-law", "floor_light": 0.1}
SECOND = {"step_minutes": 0.0166667}
TEN_SECONDS = {"step_minutes": 0.1666667}
FIVE_SECONDS = {"step_minutes": 0.0833333}


@dataclass(frozen=True)
class Case:
    """A schedule and what is done with it; ``kind`` is what is exported, if anything is."""

    name: str
    text: str
    dates: tuple[str, ...] = ONE_DATE
    kind: str = ""


def cases() -> Iterator[Case]:
    """Yield what is measured."""
    grids = {
        "16-bit codes": FINE_CODES,
        "1 mV": FINE_MILLIVOLTS,
        "100,000 levels": FINEST_LEVELS,
        "1 %": {},
    }
    steps = {"1 min": {}, "10 s": TEN_SECONDS, "5 s": FIVE_SECONDS, "1 s": SECOND}
    for grid, levels in grids.items():
        for step, times in steps.items():
            for response, law in (("square-law", {}), ("log-law", LOG)):
                name = f"{grid}, {step}, {response}"
                yield Case(f"one channel, {name}", schedule(1, **levels, **times, **law))
                yield Case(
                    f"four shared, {name}", schedule(4, shared="true", **levels, **times, **law)
                )
                yield Case(
                    f"four shared held, {name}",
                    schedule(4, shared="true", between="hold", **levels, **times, **law),
                )
    for step, times in steps.items():
        yield Case(
            f"held, 1,440 rows, {step}",
            schedule(4, between="hold", rows=1440, **times, **FINE_CODES),
        )
        yield Case(f"1,440 rows, {step}", schedule(4, rows=1440, **times, **FINE_CODES))
        yield Case(
            f"1,440 rows shared, {step}",
            schedule(4, rows=1440, shared="true", **times, **FINE_CODES),
        )
        yield Case(
            f"no wrap, never dark, {step}",
            schedule(4, after="hold", dark="never", shared="true", **times, **FINE_CODES)
            + "accept: [{finding: night-not-dark, channels: [channel-0, channel-1, channel-2, channel-3],"
            " because: it is measured here}]\n",
        )
    for name, more in {"1 %": {}, "16-bit codes": FINE_CODES}.items():
        yield Case(f"64 channels, 64 zones, {name}", schedule(64, zones=64, rows=24, **more))
        yield Case(
            f"64 shared channels, {name}", schedule(64, zones=64, shared="true", rows=64, **more)
        )
    for kind in ("c", "micropython", "binary", "json", "csv"):
        for grid, levels in grids.items():
            yield Case(f"export {kind}, {grid}", schedule(4, **levels), kind=kind)
            yield Case(f"export {kind}, {grid}, log-law", schedule(4, **levels, **LOG), kind=kind)
        yield Case(f"export {kind}, a year", _natural_year(), YEAR, kind)
    yield Case("burn-in of 64 tubes", _burn_in(), YEAR)
    yield Case("a natural year, 365 tables", _natural_year(), YEAR)
    yield Case("a natural year, 16-bit codes", _natural_year(unit="unit: code, step: 1"), YEAR)
    yield Case("ten natural years", _natural_year(), ("--from", "2027-01-01", "--to", "2036-12-31"))


def _burn_in() -> str:
    tubes = "tubes:\n" + "".join(
        f"  tube-{n}: {{watts: 54, fitted: 2027-0{1 + n % 9}-02T08:00, burn_in_full_hours: {12 + n}}}\n"
        for n in range(64)
    )
    return schedule(64, tubes, zones=4)


def _natural_year(unit: str = "unit: millivolts, step: 20") -> str:
    """Return the example of a natural year with a table for each date."""
    text = (EXAMPLES / "natural-year.yaml").read_text(encoding="utf-8")
    text = re.sub(r"^dated_tables:.*\n", "", text, flags=re.MULTILINE)
    assert "unit: millivolts, step: 20" in text
    return text.replace("unit: millivolts, step: 20", unit) + "dated_tables: {tables: 365}\n"


def measure(case: Case, folder: Path) -> tuple[float, float, int]:
    """Return the peak of memory [MB], the time [s] and the exit code of a case."""
    file = folder / "schedule.yaml"
    file.write_text(case.text, encoding="utf-8")
    what = ["export", case.kind] if case.kind else ["compile"]
    out = folder / ("out.bin" if case.kind else "out")
    command = [sys.executable, "-m", "photoperiod", *what, str(file), *case.dates, "-o", str(out)]
    begin = time.perf_counter()
    with (folder / "told").open("wb") as told:
        process = subprocess.Popen(["timeout", str(MOST_S), *command], stdout=told, stderr=told)
        _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return used.ru_maxrss * 1024 / 1e6, time.perf_counter() - begin, process.returncode


def main() -> None:
    """Measure the cases."""
    words = sys.argv[1:]
    over = []
    for case in cases():
        if words and not any(word in case.name for word in words):
            continue
        with tempfile.TemporaryDirectory() as folder:
            peak, seconds, code = measure(case, Path(folder))
            told = (Path(folder) / "told").read_text(encoding="utf-8").strip().splitlines()
        if peak > MOST_MB:
            over.append(case.name)
        last = f": {told[-1][:90]}" if code and told else ""
        print(f"{peak:7.0f} MB {seconds:7.1f} s  exit {code}  {case.name}{last}", flush=True)
    print(f"over {MOST_MB} MB: {', '.join(over) or 'none'}")


if __name__ == "__main__":
    main()
