"""Random schedules that ask for doses: either a table gives them, or the refusal is right.

    python benchmarks/solve_fuzz.py --first 0 --count 200

Each schedule is made from its seed, with limits in half of them. Where a day is found, its table is compiled and played
again: doses must be those that are asked for, and no hard finding may arise. Where it is refused, a coarse
search that shares nothing with the solver goes through all peaks of a grid and lengths of days, fits their tables,
and looks for one that gives the doses and keeps the limits. A refusal that it refutes is a failure.

Prints what was met, refused and refuted. Exit code 1 if anything was wrong.
"""

from __future__ import annotations

import argparse
import itertools
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from photoperiod.api import ScheduleError, compile, load_text
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program
from photoperiod.schedule.day_plan import ClockTime, Ramps
from photoperiod.schedule.model import Schedule
from tests.solve.schedules import asked

#: Days that the coarse search looks at by their plans, and tables of the best that it fits, for one schedule.
MOST_TRIES, MOST_TABLES = 3000, 40

#: Plans are near if their doses are within this share of what is asked for.
NEAR = 0.03

#: Doses within this share of what is asked for refute a refusal: less than what a refusal may miss by, which is
#: half of one count at one row or 1 %, would need the solver's own tolerance.
CLOSE = 5e-3


def limited(seed: int) -> str:
    """Return a schedule that asks for doses; every second has limits beside, some of which can't be kept."""
    dice, each = random.Random(seed ^ 0x5EED), asked(seed)
    text = each.text.replace("time_step_minutes: 1\n", "time_step_minutes: 5\n")  # for speed
    if seed % 2:
        for zone, dose in each.wanted.items():
            old = f"  {zone}: {{wanted_dli: {dose}, dark_hours_min: 4}}"
            if old not in text:
                continue
            low, high = round(dose * dice.uniform(0.7, 1), 2), round(dose * dice.uniform(1, 1.3), 2)
            limits = [f"dli: [{low}, {high}]"] if dice.random() < 0.7 else []
            if dice.random() < 0.6:
                limits.append(f"ppfd_max: {dice.randint(60, 260)}")
            limits.append(f"dark_hours_min: {dice.choice((4, 8, 11))}")
            factor = dice.choice((1.0, 1.0, 1.1, 1.3, 0.8))
            asks = min(max(round(dose * factor, 2), low), high) if limits[0][0] == "d" else dose
            text = text.replace(old, f"  {zone}: {{wanted_dli: {asks}, {', '.join(limits)}}}")
    return text


def is_right(program: Program, share: float) -> str:
    """Return what is wrong with the doses of a finished table; empty for nothing."""
    for zone in program.schedule.zones.values():
        z = program.zones[zone.id]
        if zone.wanted_dli is None:
            continue
        low, high = zone.wanted_dli
        off = max(low - z.dli.replay, z.dli.replay - high)
        if off > share * high + 1e-9:
            return f"{zone.id} gets {z.dli.replay:.5f} for {low}"
        if zone.dli_band and not zone.dli_band[0] - 1e-9 <= z.dli.replay <= zone.dli_band[1] + 1e-9:
            return f"{zone.id} is outside its limits"
    return ""


def days(schedule: Schedule, dice: random.Random) -> Iterator[Schedule]:
    """Yield schedules over a coarse grid of what may move, in a random order."""
    menus = []
    for channel in schedule.channels.values():
        moves, day = channel.may_move, channel.day
        assert moves is not None
        assert isinstance(day, Ramps)
        assert isinstance(day.dawn.start, ClockTime)
        assert isinstance(day.dusk.end, ClockTime)
        low, high = moves.peak_light or (day.peaks[0].light, day.peaks[0].light)
        lights = [low + (high - low) * step / 100 for step in range(101)]
        start, end = day.dawn.start.second, day.dusk.end.second
        ends = [0]
        if moves.day_s is not None:
            ends = [
                by
                for by in range(-3600, 3601, 900)
                if moves.day_s[0] <= end - start + 2 * by <= moves.day_s[1]
            ]
        menus.append([
            (channel.id, replace(
                day,
                dawn=replace(day.dawn, start=ClockTime(start - by)),
                dusk=replace(day.dusk, end=ClockTime(min(end + by, 86_400))),
                peaks=(replace(day.peaks[0], light=light),),
            ))
            for light, by in itertools.product(lights, ends)
        ])  # fmt: skip
    for _ in range(MOST_TRIES):
        chosen = dict(dice.choice(menu) for menu in menus)
        channels = {
            id: replace(channel, day=chosen[id]) for id, channel in schedule.channels.items()
        }
        yield replace(schedule, channels=channels)


def planned_dose(schedule: Schedule, zone: str) -> float:
    """Return the dose of a plan: peak × (plateau + ramps), by the closed form of each shape."""
    share = {"linear": 0.5, "sine": 0.63662, "smooth": 0.5, "perceptual": 0.4}
    total = 0.0
    for channel in schedule.channels.values():
        day = channel.day
        assert isinstance(day, Ramps)
        ramps = [(day.dawn.length_s, day.dawn.shape), (day.dusk.length_s, day.dusk.shape)]
        length = day.dusk.end.second - day.dawn.start.second  # type: ignore[union-attr]
        lit = length - sum((s or 0) * (1 - share[str(shape or "linear")]) for s, shape in ramps)
        total += channel.full_ppfd.get(zone, 0.0) * day.peaks[0].light * lit / 1e6
    return total


def refuted(schedule: Schedule, seed: int, most_s: float) -> str:
    """Return doses of a table that gives what was refused; empty if the coarse search has none."""
    dice, started = random.Random(seed), time.perf_counter()
    wanted = {z.id: z.wanted_dli for z in schedule.zones.values() if z.wanted_dli}

    def off(each: Schedule) -> float:
        return max(
            max(low - planned_dose(each, id), planned_dose(each, id) - high, 0.0) / high
            for id, (low, high) in wanted.items()
        )

    plain = replace(
        schedule, zones={id: replace(z, wanted_dli=None) for id, z in schedule.zones.items()}
    )
    asked_for = compile_program(plain)
    near = sorted((each for each in days(plain, dice) if off(each) <= NEAR), key=off)
    # Tables give a little more or less than their plans, so that not only the nearest plans are fitted.
    for each in near[:: max(len(near) // MOST_TABLES, 1)][:MOST_TABLES]:
        if time.perf_counter() - started > most_s:
            break
        program = compile_program(each)
        doses = {id: program.zones[id].dli.replay for id in wanted}
        is_met = all(
            low - CLOSE * low <= doses[id] <= high + CLOSE * high
            for id, (low, high) in wanted.items()
        )
        if is_met and keeps(program, asked_for):
            return ", ".join(f"{id} {dose:.4f}" for id, dose in doses.items())
    return ""


def keeps(program: Program, asked_for: Program) -> bool:
    """Return whether a table keeps all limits; a night that the file breaks may stay as it is."""
    for id, z in program.zones.items():
        night_s = min(z.zone.dark_hours_min * 3600, asked_for.zones[id].night_s)
        if z.night_s < night_s or (z.zone.ppfd_max and z.peak_ppfd > z.zone.ppfd_max):
            return False
        if z.zone.dli_band and not z.zone.dli_band[0] <= z.dli.replay <= z.zone.dli_band[1]:
            return False
    return True


def one(seed: int, most_s: float) -> tuple[str, str]:
    """Return what became of the schedule of a seed, and words on it."""
    try:
        loaded = load_text("fuzz", limited(seed).encode())
    except ScheduleError as fault:
        return "no schedule", fault.findings[0].message
    share = loaded.schedule.controller.dose_within
    before = {
        (d.code, d.path)
        for d in compile(
            replace(
                loaded,
                schedule=replace(
                    loaded.schedule,
                    zones={
                        id: replace(z, wanted_dli=None) for id, z in loaded.schedule.zones.items()
                    },
                ),
            )
        ).findings
        if d.severity == "error"
    }
    try:
        done = compile(loaded)
    except ScheduleError as fault:
        if any(d.code not in ("PHO803", "PHO341") for d in fault.findings if d.severity == "error"):
            return "WRONG", str([d.message for d in fault.findings])
        words = next(d for d in fault.findings if d.severity == "error")
        against = refuted(loaded.schedule, seed, most_s)
        kind = "not near" if "no table was found" in words.message else "missed"
        if against:
            return f"REFUTED {kind}", f"{words.message} | {against}"
        return f"refused: {kind}", words.message
    wrong = is_right(done.program, share)
    hard = [d for d in done.findings if d.severity == "error" and (d.code, d.path) not in before]
    if wrong or hard:
        return "WRONG", wrong or hard[0].message
    assert done.program.schedule.found is not None
    return "met, rows moved" if done.program.schedule.found.rows else "met", ""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=20.0, help="for one coarse search")
    parser.add_argument("--channels", type=int, default=4, help="leave schedules with more out")
    options = parser.parse_args()
    counts: Counter[str] = Counter()
    for seed in range(options.first, options.first + options.count):
        if limited(seed).count("    ballast: pair") > options.channels:
            continue
        what, words = one(seed, options.seconds)
        counts[what] += 1
        print(f"{seed}: {what}" + (f": {words}" if words else ""), flush=True)
    for what, count in sorted(counts.items()):
        print(f"{what}: {count}")
    return int(any(what.startswith(("WRONG", "REFUTED")) for what in counts))


if __name__ == "__main__":
    sys.exit(main())
