"""What the laws of a world know of its past, and what they ask of its lamps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.board.bench import FLOOR
from tests.world.disk import DiskState
from tests.world.kernel import Lamp
from tests.world.wrong import Violation

if TYPE_CHECKING:
    from tests.world.machine import World


@dataclass(frozen=True, slots=True)
class ByHand:
    """Light by hand: since when, for how long [s], and whether any lamp may be lit by it."""

    since_s: float
    lasts_s: float
    is_lit: bool


def can_read(world: World) -> bool:
    """Return True if a player can read its card."""
    return world.card.state not in (DiskState.BROKEN, DiskState.HANGS)


def can_be_seen(world: World) -> bool:
    """Return True if a player can know of a hold: a disk that fails can't tell, the runtime folder can."""
    return can_read(world) or any((world.folder / "run").glob("hold-*"))


class Known:
    """The world that is judged, and what its laws need to know of the past."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.ceiling = dict.fromkeys(("blue", "white"), float(FLOOR))
        self.looked_s = world.boot_total()
        self.reached: dict[str, int] = {}
        self.line_steps = 0
        self.dark_steps = {"blue": 0, "white": 0}
        self.last_record: dict[str, tuple[int, bool]] = {}
        self.record_s: dict[str, float] = {}
        self.closed_now: set[str] = set()
        self.coded_now: set[str] = set()
        self.expected = world.plan.raw
        self.expected_since_s = -math.inf
        self.expected_looks = self.standing_looks = 0
        #: Tables that were right before, as long as a player need not have seen the one that is.
        self.right_before: set[bytes] = set()
        self.is_held = False
        self.by_hand: ByHand | None = None
        #: What was given by hand before, as long as no step could see that it was replaced.
        self.by_hand_before: ByHand | None = None
        self.is_clock_touched = False
        self.held_steps = 0
        self.may_trust = True
        self.steps_of_process = 0
        self.weld_since_s = math.inf
        self.logs_since = world.boot
        self.step_shown = world.shown

    def fail(self, what: str) -> None:
        """Say that a law is broken."""
        raise Violation(what)

    def require(self, holds: bool, what: str) -> None:
        """Say that a law is broken unless something holds."""
        if not holds:
            raise Violation(what)

    def _can_be_seen(self, lamp: Lamp) -> bool:
        """Return True if a lamp that burns can be told from a dark one."""
        world = self.world
        if lamp.channel == "white" and world.server is not None:
            return not world.server.listener.is_away and world.server.is_up
        if world.part("relay", lamp.channel).lies or lamp.welded:
            return lamp.has_sensor and not world.kernel.sensors_fail
        return True

    def wanted(self) -> tuple[int, ...]:
        """Return the counts of which a lamp should have one now: time passed during the step."""
        world = self.world
        player = world.player
        assert player is not None
        if self.held_steps > 0 or player.is_held or not player.clock.is_trusted:
            return (0,)
        plan = world.plans[player.loaded.raw]
        if player.override.active is not None:
            assert self.by_hand is not None
            given = (self.by_hand, self.by_hand_before)
            return (0, plan.most) if any(one.is_lit for one in given if one is not None) else (0,)
        return tuple(plan.wanted(world.shown - late) for late in (0.0, world.late_s))

    def _is_local(self, lamp: Lamp) -> bool:
        return lamp.channel == "blue" or self.world.server is None

    def _local_lamps(self) -> list[Lamp]:
        return [lamp for lamp in self.world.lamps if self._is_local(lamp)]
