"""Schedules that ask for doses, made at random from a seed: the tests of the room share them."""

from __future__ import annotations

import random
from dataclasses import dataclass

from photoperiod.schedule.model import Schedule
from tests.conftest import load

RESPONSES = ("square-law", "linear", "log-law")
SHAPES = ("linear", "sine", "smooth", "perceptual")
EMITS = (
    "{unit: percent, step: 1, every_seconds: 1, rounding: half-up}",
    "{unit: percent, step: 0.5, every_seconds: 1, rounding: half-up}",
    "{unit: percent, step: 2, every_seconds: 60, rounding: down}",
    "{unit: code, step: 1, every_seconds: 1, rounding: toward-last-row}",
)

#: A seed whose levels are too coarse for its dose.
COARSE = 14


@dataclass(frozen=True)
class Asked:
    """A schedule that asks for doses which a day within its bounds has."""

    text: str
    wanted: dict[str, float]

    @property
    def schedule(self) -> Schedule:
        outcome = load("asked.yaml", self.text.encode())
        assert outcome.schedule is not None, [d.message for d in outcome.report]
        return outcome.schedule


def asked(seed: int, *, exact: bool = True) -> Asked:
    """Return a schedule whose doses are those of a plan by hand: peak × (plateau + ramps).

    With linear ramps the light of a day is peak × (plateau + half of both ramps): so a dose within bounds
    is known without a line of ours.
    """
    dice = random.Random(seed)
    channels, zones = dice.randint(1, 4), dice.randint(1, 3)
    zones = min(zones, channels)
    lines, doses = [], [0.0] * zones
    for number in range(channels):
        shape = dice.choice(SHAPES)
        start, ramp = dice.randrange(360, 660, 15), dice.choice((30, 60, 90, 120))
        length, peak = dice.randrange(540, 780, 30), dice.randint(30, 80)
        end = min(start + length, 1440)
        full = [round(dice.uniform(20, 60) + (90 if at == number else 0), 1) for at in range(zones)]
        low, high = max(peak - 25, 10), min(peak + 20, 98)
        moves = f"peak_light_percent: [{low}, {high}]"
        if dice.random() < 0.3:
            moves += f", day_hours: [{(end - start) / 60 - 1}, {(end - start) / 60 + 1}]"
        share = {"linear": 0.5, "sine": 0.63662, "smooth": 0.5, "perceptual": 0.4}[shape]
        aim = dice.uniform(low + 6, high - 6) / 100
        hours = (end - start - 2 * ramp + 2 * share * ramp) / 60
        for at in range(zones):
            doses[at] += full[at] * aim * hours * 0.0036
        measured = ", ".join(f"z{at}: {full[at]}" for at in range(zones))
        lines.append(f"""\
  c{number}:
    ballast: pair
    ballast_count: 1
    full_ppfd: {{zones: {{{measured}}}}}
    may_move: {{{moves}}}
    day:
      kind: ramps
      dawn: {{start: "{start // 60:02}:{start % 60:02}", minutes: {ramp}, shape: {shape}}}
      peaks: [{{light_percent: {peak}}}]
      dusk: {{end: "{end // 60:02}:{end % 60:02}", minutes: {ramp}, shape: {shape}}}
""")
    asks = [round(dose, 2) for dose in doses]
    wanted = [f"{dose}" if exact else f"[{dose * 0.98:.3f}, {dose * 1.02:.3f}]" for dose in asks]
    text = f"""\
schedule: 1
tank: bench
title: Doses by the dice
controller:
  clock: standard
  setpoints_per_channel: {dice.choice((8, 10, 12, 16))}
  shared_times: {"true" if dice.random() < 0.15 else "false"}
  time_step_minutes: {dice.choice((1, 1, 5, 15))}
  between: {"hold" if dice.random() < 0.1 else "line"}
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {dice.choice(EMITS)}
  converter: {{kind: nominal, bits: 12, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: {dice.choice(RESPONSES)}}}
    floor: {{volts: 1.0, light_percent: {dice.choice((1, 3, 10))}}}
    full_volts: 10.0
    dark: {{kind: relay}}
    below_floor: {dice.choice(("nearest", "dark", "floor"))}
zones:
""" + "".join(f"  z{at}: {{wanted_dli: {wanted[at]}, dark_hours_min: 4}}\n" for at in range(zones))
    return Asked(text + "channels:\n" + "".join(lines), {f"z{n}": d for n, d in enumerate(asks)})
