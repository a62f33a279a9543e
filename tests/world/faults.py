"""Everything that goes wrong in a simulated world.

A fault is a function that begins it, yields once for as long as it lasts, and ends it.
"""

from __future__ import annotations

import shutil
import signal
from collections.abc import Callable
from typing import TYPE_CHECKING

from photoperiod.board.state_store import StateStore
from tests.board.bench import finer_table
from tests.world.disk import Card, DiskState, WorldDisk, leave_torn_file
from tests.world.fault import FAULTS, Fault, Steps, fault
from tests.world.kernel import LED, Part
from tests.world.wrong import DAY_S, PowerCut, ProcessEnd

if TYPE_CHECKING:
    from tests.world.machine import World

#: All of them: this module enters them, so that whoever wants the list takes it from here.
__all__ = ["FAULTS", "Fault"]

# ---- devices


def _part(world: World, kind: str) -> Part:
    channels = ["blue"] if world.server is not None else ["blue", "white"]
    return world.part(kind, world.chance.choice(channels))


def _flag(kind: str, flag: str) -> Callable[[World], Steps]:
    """Return a fault that sets a flag of a device, and takes it away again."""

    def act(world: World) -> Steps:
        part = _part(world, kind)
        setattr(part, flag, True)
        yield
        setattr(part, flag, False)

    return act


for _kind, _word in (("output", "converter"), ("relay", "relay")):
    for _flag_name, _what, _beyond, _alarm in (
        ("gone", "vanishes, and comes back", False, "PHO507"),
        ("hangs", "hangs", True, "PHO507"),
        ("refuses", "refuses what is written", False, ""),
        ("forbidden", "may not be written any more", False, ""),
        ("taken", "is taken by another player", False, ""),
    ):
        fault(f"{_word} {_what}", is_beyond=_beyond, alarm=_alarm)(_flag(_kind, _flag_name))


def _resets(kind: str) -> Callable[[World], Steps]:
    def act(world: World) -> Steps:
        part = _part(world, kind)
        world.kernel.held[part.file] = "0"
        yield

    return act


fault("converter resets itself")(_resets("output"))
fault("relay resets itself")(_resets("relay"))


@fault("converter vanishes, and comes back reset", alarm="PHO507")
def _reset_converter(world: World) -> Steps:
    part = world.part("output")
    part.gone = True
    yield
    part.gone = False
    world.kernel.held[part.file] = "0"


@fault("relay is closed from outside")
def _closed(world: World) -> Steps:
    part = _part(world, "relay")
    if part.file in world.kernel.held:
        world.kernel.held[part.file] = "255" if part.file.startswith(LED) else "1"
    yield


@fault("converter is set from outside")
def _set(world: World) -> Steps:
    part = world.part("output")
    world.kernel.held[part.file] = str(world.chance.choice((0, 400, 2000, 4095)))
    yield


@fault("all is lit from outside")
def _all_lit(world: World) -> Steps:
    world.kernel.held[world.part("relay").file] = "255"
    world.kernel.held[world.part("output").file] = "4095"
    yield


@fault("relay is stuck")
def _stuck(world: World) -> Steps:
    part = _part(world, "relay")
    part.stuck = True
    yield
    part.stuck = False


@fault("converter is stuck")
def _stuck_converter(world: World) -> Steps:
    part = _part(world, "output")
    part.stuck = True
    yield
    part.stuck = False


@fault("relay is stuck, and says that it is not", needs="sensor", is_beyond=True)
def _lies(world: World) -> Steps:
    part = world.part("relay")
    part.stuck = part.lies = True
    part.told = world.kernel.held[part.file]
    yield
    part.stuck = part.lies = False


@fault("contact is welded", is_beyond=True)
def _welded(world: World) -> Steps:
    lamp = world.chance.choice(world.lamps[: 1 if world.server is not None else 2])
    lamp.welded = True
    yield
    lamp.welded = False


@fault("sensors can't be read", needs="sensor", alarm="PHO507")
def _blind(world: World) -> Steps:
    world.kernel.sensors_fail = True
    yield
    world.kernel.sensors_fail = False


@fault("relay blinks by a trigger")
def _trigger(world: World) -> Steps:
    world.kernel.held[f"{LED}/trigger"] = "none [timer]"
    world.kernel.held[f"{LED}/brightness"] = world.chance.choice(("0", "255"))
    yield
    world.kernel.held[f"{LED}/trigger"] = "[none] timer"


# ---- the process and the power


def _ends(ending: type[ProcessEnd], after_power: str = "synced") -> Callable[[World], Steps]:
    """Return a fault that ends the process before any of its next effects, or while it waits."""

    def act(world: World) -> Steps:
        world.after_power, world.ending = after_power, ending
        world.down_s = world.chance.choice((1.0, 10.0, 10.0, 90.0, 1200.0))
        if world.chance.random() < 0.3:
            world.end_now = True
        else:
            world.fuse = world.chance.randrange(12)
        yield
        if world.fuse is not None:
            world.fuse = None
        if after_power in ("last", "1970"):
            world.set_clock_right()

    return act


fault("player is killed", most_s=600.0)(_ends(ProcessEnd))
fault("power fails, clock is set by the network", most_s=3600.0)(_ends(PowerCut))
fault("power fails, clock is set by a battery", most_s=3600.0)(_ends(PowerCut, "battery"))
fault("power fails, clock is where it stopped", most_s=3600.0)(_ends(PowerCut, "last"))
fault("power fails, clock is in 1970", most_s=3600.0)(_ends(PowerCut, "1970"))


@fault("player is stopped, and started again", most_s=600.0)
def _term(world: World) -> Steps:
    world.signal, world.down_s = signal.SIGTERM, world.chance.choice((2.0, 60.0, 1200.0))
    yield


@fault("player is interrupted", most_s=600.0)
def _interrupt(world: World) -> Steps:
    world.signal, world.down_s = signal.SIGINT, 20.0
    yield


@fault("player gets SIGHUP", most_s=600.0)
def _hup(world: World) -> Steps:
    world.signal = signal.SIGHUP
    yield


@fault("machine sleeps", most_s=600.0)
def _sleeps(world: World) -> Steps:
    world.sleep(world.chance.choice((7.0, 40.0, 1800.0, 20_000.0)))
    yield


@fault("player is killed again and again", most_s=900.0, least_s=300.0)
def _killed_often(world: World) -> Steps:
    world.ending, world.fuse, world.down_s = ProcessEnd, world.chance.randrange(8), 1.0
    world.kills_left = 6
    yield
    world.kills_left, world.fuse = 0, None


# ---- the clock


@fault("clock is stepped ahead", most_s=3600.0)
def _ahead(world: World) -> Steps:
    by_s = world.chance.choice((5.0, 600.0, 3600.0, 10_000.0))
    world.offset_s += by_s
    yield
    world.offset_s -= by_s


@fault("clock is stepped back", most_s=3600.0)
def _back(world: World) -> Steps:
    by_s = world.chance.choice((5.0, 600.0, 3600.0, 10_000.0))
    world.offset_s -= by_s
    yield
    world.offset_s += by_s


@fault("clock drifts", most_s=3 * 3600.0)
def _drifts(world: World) -> Steps:
    world.drift = world.chance.choice((-5e-4, 5e-4))
    yield
    world.drift = world.offset_s = 0.0


@fault("clock is synchronised no more")
def _unsynced(world: World) -> Steps:
    world.is_synced = False
    yield
    world.is_synced = True


@fault("clock is ten years ahead for a while", most_s=1800.0)
def _years(world: World) -> Steps:
    """The system may call that clock synchronised, or may not know."""
    world.offset_s += 3650 * DAY_S
    world.is_synced = world.chance.choice((False, True, None))
    yield
    world.offset_s -= 3650 * DAY_S
    world.is_synced = True


# ---- the disk


def _disk(state: DiskState) -> Callable[[World], Steps]:
    def act(world: World) -> Steps:
        world.card.state = state
        yield
        world.card.state = DiskState.FINE

    return act


for _state, _name in (
    (DiskState.FULL, "disk is full"),
    (DiskState.READ_ONLY, "disk becomes read-only"),
    (DiskState.BROKEN, "disk fails"),
    (DiskState.HANGS, "disk hangs"),
):
    fault(_name, alarm="can't be written", alarm_s=700.0)(_disk(_state))


@fault("state folder is removed")
def _removed(world: World) -> Steps:
    shutil.rmtree(world.folder / "state", ignore_errors=True)
    yield


@fault("log folder is moved away")
def _moved(world: World) -> Steps:
    if (world.folder / "log").exists():
        shutil.rmtree(world.folder / "old", ignore_errors=True)
        (world.folder / "log").rename(world.folder / "old")
    yield


@fault("state file is damaged, and the player killed", most_s=600.0)
def _damaged(world: World) -> Steps:
    state = world.folder / "state" / "state.json"
    if state.exists():
        raw = bytearray(state.read_bytes())
        raw[world.chance.randrange(len(raw))] ^= 1 << world.chance.randrange(8)
        state.write_bytes(raw[: world.chance.randint(1, len(raw))])
    world.ending, world.end_now, world.down_s = ProcessEnd, True, 5.0
    yield


@fault("hold is a folder", most_s=3600.0)
def _hold_folder(world: World) -> Steps:
    hold = world.folder / "state" / "hold"
    if hold.exists() or not hold.parent.exists():
        yield
        return
    hold.mkdir()
    world.set_held(True)
    yield
    world.keeper_releases()


# ---- tables


@fault("table is replaced by a good one", most_s=1800.0)
def _good(world: World) -> Steps:
    plan = world.new_plan()
    world.put_table(plan.raw)
    world.table_is_right(plan.raw)
    yield


@fault("table is replaced by an old one", most_s=1800.0)
def _old(world: World) -> Steps:
    raw = world.chance.choice([raw for raw, plan in world.plans.items() if not plan.is_over])
    world.put_table(raw)
    world.table_is_right(raw)
    yield


def _bad_table(world: World, put: Callable[[], None]) -> Steps:
    put()
    yield
    world.put_table(world.laws.expected)


@fault("table is torn", alarm="last good table goes on")
def _torn(world: World) -> Steps:
    yield from _bad_table(world, lambda: _tear(world))


def _tear(world: World) -> None:
    world.put_table(world.new_plan().raw)
    leave_torn_file(world.table, world.table.read_bytes(), world.chance)


@fault("table is for another converter", alarm="last good table goes on")
def _other(world: World) -> Steps:
    yield from _bad_table(world, lambda: world.put_table(finer_table()))


@fault("table is removed", alarm="last good table goes on")
def _no_table(world: World) -> Steps:
    yield from _bad_table(world, lambda: world.table.unlink(missing_ok=True))


@fault("table is a pipe", alarm="last good table goes on")
def _pipe(world: World) -> Steps:
    import os

    def put() -> None:
        world.table.unlink(missing_ok=True)
        os.mkfifo(world.table)

    yield from _bad_table(world, put)


@fault("table has expired", most_s=1800.0)
def _expired(world: World) -> Steps:
    plan, before = world.new_plan(("2026-01-01", "2026-12-31")), world.laws.expected
    world.put_table(plan.raw)
    world.table_is_right(plan.raw)
    yield
    world.put_table(before)
    world.table_is_right(before)


# ---- the broker


def _server(flag: str, value: bool = True) -> Callable[[World], Steps]:
    def act(world: World) -> Steps:
        assert world.server is not None
        setattr(world.server, flag, value)
        if flag == "refuses_logins" and world.broker is not None:
            world.broker.break_line()  # its password was changed
        yield
        setattr(world.server, flag, not value)

    return act


fault("broker is away", needs="remote", is_beyond=True, alarm="broker", alarm_s=60.0)(
    _server("is_up", False)
)
fault("broker refuses the login", needs="remote", is_beyond=True)(_server("refuses_logins"))
fault(
    "broker refuses the topic", needs="remote", is_beyond=True, alarm="refuses it", alarm_s=400.0
)(_server("refuses_topics"))
fault("broker is slow", needs="remote", is_beyond=True, most_s=600.0)(_server("delays"))
fault("line loses messages", needs="remote", is_beyond=True, most_s=600.0)(_server("loses"))
fault("messages come twice", needs="remote")(_server("repeats"))


@fault("broker starts again, empty", needs="remote", is_beyond=True)
def _empty(world: World) -> Steps:
    assert world.server is not None
    world.server.is_up = False
    world.server.forget()
    yield
    world.server.is_up = True


@fault("listener loses its broker", needs="remote", is_beyond=True)
def _deaf(world: World) -> Steps:
    assert world.server is not None
    world.server.listener.is_away = True
    yield
    world.server.listener_returns()


@fault("broker offers a table", needs="remote", most_s=1800.0)
def _offered(world: World) -> Steps:
    plan = world.new_plan()
    if world.broker is not None:
        world.broker.hand_out(plan.raw)
    yield


@fault("broker offers a torn table", needs="remote", most_s=1800.0)
def _offered_torn(world: World) -> Steps:
    raw = world.new_plan().raw
    if world.broker is not None:
        world.broker.hand_out(raw[: world.chance.randrange(1, len(raw))])
    yield
    assert world.server is not None
    world.server.table = None
    world.put_table(world.laws.expected)


# ---- people


@fault("keeper holds the lamps", most_s=3 * 3600.0, least_s=30.0)
def _held(world: World) -> Steps:
    world.keeper_holds()
    yield
    world.keeper_releases()


@fault("keeper holds and releases in a moment", most_s=60.0)
def _hesitates(world: World) -> Steps:
    world.keeper_holds()
    world.keeper_releases()
    yield


@fault("keeper gives light by hand", most_s=3600.0)
def _by_hand(world: World) -> Steps:
    world.laws.is_clock_touched = world.offset_s != 0
    world.keeper_overrides(
        world.chance.choice((1, 20, 120)), world.chance.choice((0.0, 8.0, 100.0))
    )
    yield
    world.keeper_ends_override()


@fault("a second player is started", most_s=600.0)
def _second(world: World) -> Steps:
    if world.player is not None and world.card.state is DiskState.FINE:
        disk = WorldDisk(Card(world.chance), lambda _: None, lambda: world.shown, lambda *_: None)
        other = StateStore(world.folder / "state", disk, world.folder / "run")
        world.laws.second_player(other)
        disk.end()
    yield
