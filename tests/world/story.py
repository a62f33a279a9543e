"""What happens day by day: a state of the player, a fault in it, and then all must be well again."""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.world.faults import FAULTS, Fault
from tests.world.machine import Story, World
from tests.world.wrong import PowerCut, Violation

#: The states of a player in which each fault must be met.
STATES = ("dark", "ramp", "peak", "soft", "held", "safe", "by hand")

#: How long after the last fault all must be well: half an hour of soft start, and ten minutes in which the
#: state is saved once more, or a clock settles that was ahead (docs/board.md), and some steps. [s]
WELL_S = 2700.0

#: Then two steps more: whatever was left out before is made good. [s]
TWO_STEPS_S = 25.0

RESTARTS = tuple(name for name in FAULTS if name.startswith(("player is", "power fails")))

Pair = tuple[str, str]


@dataclass(slots=True)
class Told:
    """What has happened in a world, or in many.

    Parameters
    ----------
    faults : Counter of str
        How often each fault came.
    pairs : Counter of (fault, state)
        In which states of the player.
    steps : int
        Steps of players.
    days : float
        Days of boards.
    ends : Counter of str
        How processes ended.
    """

    faults: Counter[str] = field(default_factory=Counter)
    pairs: Counter[Pair] = field(default_factory=Counter)
    steps: int = 0
    days: float = 0.0
    ends: Counter[str] = field(default_factory=Counter)

    def add(self, other: Told) -> None:
        """Add what happened elsewhere."""
        self.faults += other.faults
        self.pairs += other.pairs
        self.steps += other.steps
        self.days += other.days
        self.ends += other.ends


def all_pairs() -> list[Pair]:
    """Return every pair of fault and state."""
    return [(name, state) for name in FAULTS for state in STATES]


def fits(fault: Fault, world: World) -> bool:
    """Return True if a board can have a fault."""
    if fault.needs == "sensor":
        return world.lamps[0].has_sensor
    return fault.needs in ("", world.second)


def state_of(world: World) -> str:
    """Return the state in which the player is."""
    player = world.player
    if player is None:
        return "down"
    if player.is_held:
        return "held"
    if not player.clock.is_trusted:
        return "safe"
    if player.override.active is not None:
        return "by hand"
    wanted = world.plans[player.loaded.raw].wanted(world.laws.step_shown)
    if wanted == 0:
        return "dark"
    if world.level(world.lamps[0]) < wanted - 2:
        return "soft"
    rows = world.plans[player.loaded.raw].rows
    return "peak" if wanted == rows[1][1] else "ramp"


def days_of(world: World, told: Told, days: float) -> Story:
    """Tell so many days of a world."""
    until = world.true_unix + days * 86_400
    choices = [
        (fault, state) for fault in FAULTS.values() if fits(fault, world) for state in STATES
    ]
    chance = world.chance
    while world.true_unix < until:
        fault, state = chance.choice(choices)
        day_began = world.true_unix
        yield from _bring_to(world, state)
        yield from _one_fault(world, told, fault, choices)
        yield from _mend(world)
        while world.player is None:
            yield 10.0
        yield WELL_S
        yield TWO_STEPS_S
        world.laws.all_is_well()
        yield max(86_400 - (world.true_unix - day_began), 0.0)


def _bring_to(world: World, state: str) -> Story:
    """Bring the player to a state."""
    chance = world.chance
    if state in ("dark", "ramp", "peak", "soft"):
        day_state = "peak" if state == "soft" else state
        second = world.plans[world.laws.expected].second_of(day_state, chance)
        yield (second - world.shown) % 86_400
    if state in ("soft", "safe"):
        world.after_power = "synced" if state == "soft" else chance.choice(("last", "1970"))
        world.ending, world.end_now, world.down_s = PowerCut, True, 20.0
        yield chance.uniform(60.0, 900.0)
    if state == "held":
        world.keeper_holds()
        yield chance.uniform(25.0, 900.0)
    if state == "by hand":
        world.laws.is_clock_touched = False
        world.keeper_overrides(chance.choice((30, 480)), chance.choice((0.0, 5.0, 30.0, 100.0)))
        yield chance.uniform(25.0, 900.0)
        if world.player is None or world.player.override.active is None:
            raise Violation("light by hand was wanted, and is not given")


def _one_fault(world: World, told: Told, fault: Fault, choices: list[tuple[Fault, str]]) -> Story:
    """Let a fault come and go; often another one comes while it lasts."""
    chance = world.chance
    told.faults[fault.name] += 1
    told.pairs[(fault.name, state_of(world))] += 1
    world.history.append(f"{world.boot:.2f} FAULT {fault.name} ({state_of(world)})")
    began, said = world.true_unix, len(world.said)
    processes = sum(world.ends.values())
    acting = fault.act(world)
    next(acting)
    other: Iterator[None] | None = None
    lasts_s = chance.choice(
        (fault.least_s, min(120.0, fault.most_s), chance.uniform(fault.least_s, fault.most_s))
    )
    if chance.random() < 0.4:
        yield lasts_s / 2
        # What a player that starts again makes of a fault is worth more than any other pair.
        second = (
            FAULTS[chance.choice(RESTARTS)] if chance.random() < 0.5 else chance.choice(choices)[0]
        )
        if second.name != fault.name:
            told.faults[second.name] += 1
            told.pairs[(second.name, state_of(world))] += 1
            world.history.append(
                f"{world.boot:.2f} FAULT {second.name} as well ({state_of(world)})"
            )
            other = second.act(world)
            next(other)
    yield lasts_s if other is None else lasts_s / 2
    if other is not None:
        if chance.random() < 0.5:
            acting, other = other, acting
        _end(other)
        world.history.append(f"{world.boot:.2f} one of the faults ends")
        yield chance.choice((1.0, 30.0, 600.0))
    elif (
        fault.alarm
        and world.true_unix - began > fault.alarm_s + 60
        and sum(world.ends.values()) == processes
    ):
        texts = [
            text
            for _, text in world.said[said:]
            if text.startswith("alarm:") and fault.alarm in text
        ]
        active = world.player is not None and any(
            fault.alarm in t for t in world.player.alarms.texts
        )
        if not texts and not active:
            raise Violation(
                f"'{fault.name}' lasted {world.true_unix - began:.0f} s, and no alarm says '{fault.alarm}'"
            )
    _end(acting)
    world.history.append(f"{world.boot:.2f} the fault ends ({state_of(world)})")


def _end(acting: Iterator[None]) -> None:
    for _ in acting:
        raise AssertionError("a fault yields once")


def _mend(world: World) -> Story:
    """The keeper does what is left to do: the clock is set, a hold is released."""
    yield 5.0
    world.set_clock_right()
    if world.is_held:
        world.keeper_releases()
    world.keeper_ends_override()
    yield 30.0


def play(seed: int, days: float) -> Told:
    """Play so many days of the world of a seed, and return what happened.

    Raises
    ------
    Violation
        If a law is broken; it says how to see it again.
    """
    memory = "/dev/shm" if Path("/dev/shm").is_dir() else None
    folder = Path(tempfile.mkdtemp(prefix="photoperiod-world-", dir=memory))
    told = Told()
    try:
        world = World(seed, folder)
        began = world.true_unix
        try:
            world.run(days_of(world, told, days))
        except (Exception, PowerCut) as error:
            raise Violation(_report(world, days, error)) from error
        told.steps, told.ends = world.steps, world.ends
        told.days = (world.true_unix - began) / 86_400
        return told
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _report(world: World, days: float, error: BaseException) -> str:
    effects = "\n  ".join(world.history)
    return (
        f"{type(error).__name__}: {error}\n"
        f"seed {world.seed}, step {world.steps}; the last effects:\n  {effects}\n"
        f"again: python benchmarks/world.py --seed {world.seed} --days {days:g} --worlds 1"
    )
