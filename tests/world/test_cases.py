"""Stories of mends that hardly any seed meets: each breaks a law without its mend, and none with it."""

from __future__ import annotations

import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.board.bench import finer_table
from tests.world.disk import DiskState
from tests.world.machine import Story, World
from tests.world.story import TWO_STEPS_S, WELL_S
from tests.world.unmended import UNMENDED
from tests.world.wrong import DAY_S, PowerCut, ProcessEnd, Violation

#: Seeds of boards whose second lamp is behind a broker, and at the board.
REMOTE, LOCAL = 4, 3

Case = Callable[[World], Story]


def torn_yesterday(world: World) -> Story:
    """The power fails just before midnight, and is back after it: no step writes into that log again."""
    yield (DAY_S - 90 - world.shown) % DAY_S
    yield from _power_fails_while_it_logs(world)


def _power_fails_while_it_logs(world: World) -> Story:
    """What a keeper does is logged at once, and goes to the disk within a minute."""
    world.keeper_holds()
    yield 24.0
    world.keeper_releases()
    yield 24.0
    world.after_power, world.ending, world.end_now, world.down_s = "synced", PowerCut, True, 300.0
    yield from _all_is_well(world)


def copy_lost(world: World) -> Story:
    """The state folder vanishes; later the table is one for another board, and the player is killed."""
    shutil.rmtree(world.folder / "state")
    yield 1500.0
    world.put_table(finer_table())
    yield 30.0
    world.ending, world.end_now, world.down_s = ProcessEnd, True, 10.0
    yield 60.0
    world.put_table(world.laws.expected)
    yield from _all_is_well(world)


def table_forgotten(world: World) -> Story:
    """A broker hands out a table while the card is read-only."""
    assert world.broker is not None
    world.card.state = DiskState.READ_ONLY
    yield 30.0
    world.broker.hand_out(world.new_plan().raw)
    yield 60.0
    world.card.state = DiskState.FINE
    yield from _all_is_well(world)


def unmended_folder(world: World) -> Story:
    """The disk fails, the player is stopped, and both are there again within minutes."""
    yield from _until(world, "peak")
    world.card.state = DiskState.BROKEN
    yield 30.0
    world.signal, world.down_s = signal.SIGTERM, 60.0
    yield 30.0
    world.card.state = DiskState.FINE
    yield from _all_is_well(world)


def dark_too_late(world: World) -> Story:
    """The player is killed by the first effect after its topic went dark."""
    yield from _until(world, "peak")
    world.signal = (
        signal.SIGTERM
    )  # the relay and the converter of the other lamp, and then the topic
    world.fuse, world.ending, world.down_s = 3, ProcessEnd, 20.0
    yield from _all_is_well(world)


def refused_renewal(world: World) -> Story:
    """The broker refuses what only renews a level."""
    yield from _until(world, "peak")
    assert world.server is not None
    world.server.refuses_topics = True
    yield 400.0
    if world.player is None or "refuses it" not in str(world.player.alarms.texts):
        raise Violation("a renewal was refused, and no alarm says so")
    world.server.refuses_topics = False
    yield from _all_is_well(world)


def lasting_refusal(world: World) -> Story:
    """The broker refuses the word that makes its lamp dark, and would take it two minutes later."""
    yield (world.plan.rows[-1][0] - 60 - world.shown) % DAY_S
    assert world.server is not None
    world.server.refuses_topics = True
    yield 180.0
    world.server.refuses_topics = False
    yield from _all_is_well(world)


def listener_leaps(world: World) -> Story:
    """A listener loses its broker for ten minutes of a soft start: less than a message lives."""
    yield from _until(world, "peak")
    world.ending, world.end_now, world.down_s = PowerCut, True, 20.0
    yield 300.0
    assert world.server is not None
    world.server.listener.is_away = True
    yield 600.0
    world.server.listener_returns()
    yield from _all_is_well(world)


def stuck_leaps(world: World) -> Story:
    """A converter does nothing for ten minutes of a soft start."""
    yield from _until(world, "peak")
    world.ending, world.end_now, world.down_s = PowerCut, True, 20.0
    yield 120.0
    part = world.part("output")
    part.stuck = True
    yield 600.0
    part.stuck = False
    yield from _all_is_well(world)


def outside_shortens(world: World) -> Story:
    """Something sets a converter to two fifths while its lamp rises softly."""
    yield from _until(world, "peak")
    world.ending, world.end_now, world.down_s = PowerCut, True, 20.0
    yield 120.0
    world.kernel.held[world.part("output").file] = "1638"
    yield from _all_is_well(world)


def time_ahead_kept(world: World) -> Story:
    """The clock leaps ten years, the player is stopped at once, and then the clock is right again."""
    yield from _until(world, "peak")
    world.offset_s, world.is_synced = 3650.0 * DAY_S, None
    world.signal, world.down_s = signal.SIGTERM, 600.0
    yield 300.0
    world.set_clock_right()
    yield from _all_is_well(world)


def never_settles(world: World) -> Story:
    """The same with a time server that is wrong: the player can't know it, and is dark for ten minutes."""
    yield from _until(world, "peak")
    world.offset_s = 3650.0 * DAY_S
    yield 1500.0
    world.signal, world.down_s = signal.SIGTERM, 600.0
    yield 300.0
    world.set_clock_right()
    yield from _all_is_well(world)


def step_too_far(world: World) -> Story:
    """The machine sleeps from the night into the day."""
    yield (world.plan.rows[0][0] - 600 - world.shown) % DAY_S
    world.sleep(4 * 3600.0)
    yield from _all_is_well(world)


def _until(world: World, state: str) -> Story:
    """Wait until the lamps are dark, rise, or have been at their peak for a minute."""
    dawn, peak, _, _, off = (row[0] for row in world.plan.rows)
    second = {"dark": off + 600, "ramp": (dawn + peak) // 2, "peak": peak + 60}[state]
    yield (second - world.shown) % DAY_S


def _all_is_well(world: World) -> Story:
    yield WELL_S
    while world.player is None:
        yield 10.0
    yield TWO_STEPS_S
    world.laws.all_is_well()


#: For each mend a seed, of which only the board follows, and the story.
CASES: dict[str, tuple[int, Case]] = {
    story.__name__: (seed, story)
    for seed, story in (
        (3, torn_yesterday),
        (LOCAL, copy_lost),
        (REMOTE, table_forgotten),
        (REMOTE, unmended_folder),
        (REMOTE, dark_too_late),
        (REMOTE, refused_renewal),
        (REMOTE, lasting_refusal),
        (REMOTE, listener_leaps),
        (LOCAL, stuck_leaps),
        (LOCAL, outside_shortens),
        (LOCAL, time_ahead_kept),
        (LOCAL, never_settles),
        (LOCAL, step_too_far),
    )
}


def tell(seed: int, case: Case, folder: Path) -> None:
    """Play a story in the world of a seed."""
    folder.mkdir()
    world = World(seed, folder)
    world.run(case(world))


@pytest.mark.parametrize("name", CASES)
def test_a_story_goes_well_with_the_mend_only(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seed, case = CASES[name]
    tell(seed, case, tmp_path / "with")
    UNMENDED[name](monkeypatch)
    with pytest.raises(Violation):
        tell(seed, case, tmp_path / "without")
