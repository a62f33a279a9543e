"""What must hold after every step, whatever happened: judged by what is, never by what the player believes.

Source: docs/board.md says each of these to keepers; "step" there is a look at everything.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from photoperiod.board.state_store import StateStore
from photoperiod.errors import OutsideWorldError
from tests.board.bench import FLOOR
from tests.world.broker import EXPIRE_S
from tests.world.disk import DiskState
from tests.world.kernel import Lamp, Part
from tests.world.plan import SOFT_SLOPE, code_of
from tests.world.wrong import Violation

if TYPE_CHECKING:
    from tests.world.machine import World

#: Whoever can reach a device again sets it within so many steps: a pause of 5 s after a failure, a look at
#: what it puts out, and the setting (docs/board.md: "tries again every five seconds").
STEPS_TO_SET = 4

#: The same for a topic: that a refusal is over is known after one message more.
STEPS_OF_A_LINE = 7

#: What a sensor says counts after 10 s (docs/board.md), and an alarm may take two steps more. [s]
SENSE_S = 31.0

#: A plan of a step a minute rises by 1.5 counts at most, and counts are whole; codes are, too. [counts]
LEAP_COUNTS = 2.1

#: Once the clock is trusted and the log can be written, it has a record of each channel after this time: it
#: gets one each minute (docs/board.md), and a step may be late. [s]
RECORD_S = 75.0

#: A newer table is played within this time (docs/board.md: twenty seconds at most), and two steps. [s]
TABLE_S = 40.0

#: A player that slept meanwhile looks at it once, sees that it has come to rest, and plays it.
TABLE_LOOKS = 3


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


class Laws:
    """The invariants of a world, and what they need to know of the past."""

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

    # ---- what happens

    def step_begins(self) -> None:
        """A step of the player is about to begin: what is in reach now can be set by it."""
        self.closed_now.clear()
        self.coded_now.clear()
        world = self.world
        self.step_shown = world.shown
        self.may_trust |= world.is_synced is not False or world.has_battery
        for key, part in world.kernel.parts.items():
            self.reached[key] = (
                self.reached.get(key, 0) + 1 if part.in_reach and not part.lies else 0
            )
        server = world.server
        if server is not None:
            is_fine = server.is_up and not any(
                (
                    server.refuses_logins,
                    server.refuses_topics,
                    server.delays,
                    server.loses,
                    server.listener.is_away,
                )
            )
            self.line_steps = self.line_steps + 1 if is_fine else 0

    def began(self) -> None:
        """A process of the player has begun; it has made no step."""
        self.steps_of_process = 0
        self.logs_since = self.world.boot
        for key in self.reached:
            self.reached[key] = min(self.reached[key], 1)
        self.line_steps = 0
        self.held_steps = 0
        self.step_begins()

    def not_started(self, code: str) -> None:
        """The player did not start, with this code."""
        world = self.world
        can_read = world.card.state not in (DiskState.BROKEN, DiskState.HANGS)
        tables = (world.table, world.folder / "state" / "table.good")
        there = any(path.is_file() and path.read_bytes() in world.plans for path in tables)
        self.require(
            not (can_read and there),
            f"the player did not start ({code}), and there is a table that it can play",
        )
        for lamp in self._local_lamps():
            relay = self.world.part("relay", lamp.channel)
            is_open = not self.world.kernel.latch(lamp.channel)
            self.require(
                is_open or not relay.in_reach,
                f"no table, and the relay of '{lamp.channel}' is closed",
            )

    def power_came_back(self) -> None:
        """The board has power again, and its outputs have fallen back."""
        self.may_trust = False
        self.ceiling = dict.fromkeys(self.ceiling, float(FLOOR))

    def was_down(self) -> None:
        """No player ran for a while: what burned has burned on."""
        self.closed_now.clear()
        self.coded_now.clear()
        for lamp, level, ceiling in self._ceilings():
            self._follow(lamp, level, ceiling)

    def slept(self, seconds: float) -> None:
        """The machine has slept: no soft start went on meanwhile, but for that of a listener."""
        self.looked_s += seconds
        for lamp in self.world.lamps:
            level = self.world.level(lamp)
            self.ceiling[lamp.channel] = max(self.ceiling[lamp.channel], level)

    def wrote(self, part: Part, before: str, after: str) -> None:
        """A device took a value: a relay opens before its level changes, and closes after it."""
        kernel = self.world.kernel
        key = next(key for key, one in kernel.parts.items() if one is part)
        channel = key.split("'")[1]
        if key.startswith("relay"):
            if after != "0" and before == "0":
                self.closed_now.add(channel)
            if after == "0" and before != "0" and channel in self.coded_now:
                self.fail(f"the level of '{channel}' was changed before its relay opened")
        elif before != after:
            if channel in self.closed_now:
                self.fail(f"the relay of '{channel}' closed before its level was set")
            if kernel.latch(channel):
                self.coded_now.add(channel)

    def logged(self, lines: bytes) -> None:
        """Records were appended to the log."""
        now_s = self.world.boot_total()
        for row in csv.reader(io.StringIO(lines.decode(), newline="")):
            if row[1]:
                self.record_s[row[1]] = now_s
                self.last_record[row[1]] = int(row[3]), row[7] == "on"

    def said(self, text: str) -> None:
        """The player said something about lamps: that must be so at this moment."""
        if not text.startswith(("held: the lamps are off", "stopped: the safe state is set")):
            return
        for lamp in self.world.lamps:
            if self.world.is_lit(lamp) and self._can_be_seen(lamp):
                self.fail(f"it said '{text}', and '{lamp.channel}' burns")

    def _can_be_seen(self, lamp: Lamp) -> bool:
        """Return True if a lamp that burns can be told from a dark one."""
        world = self.world
        if lamp.channel == "white" and world.server is not None:
            return not world.server.listener.is_away and world.server.is_up
        if world.part("relay", lamp.channel).lies or lamp.welded:
            return lamp.has_sensor and not world.kernel.sensors_fail
        return True

    def ended(self, code: int) -> None:
        """The player ended by itself with an exit code."""
        self.require(code in (0, 130, 4), f"exit code {code}")
        lit = [
            lamp for lamp in self.world.lamps if self.world.is_lit(lamp) and self._can_be_seen(lamp)
        ]
        if code != 4:
            self.require(not lit, f"exit code {code}, and {[lamp.channel for lamp in lit]} burns")
            return
        is_fine = all(part.in_reach for part in self.world.kernel.parts.values())
        is_fine &= (
            not any(lamp.welded for lamp in self.world.lamps) and not self.world.kernel.sensors_fail
        )
        is_fine &= self.world.server is None or self.line_steps > STEPS_OF_A_LINE
        settled = all(self.reached[key] > STEPS_TO_SET for key in self.world.kernel.parts)
        self.require(not (is_fine and settled), "exit code 4, and nothing is wrong")

    def second_player(self, other: StateStore) -> None:
        """A second player wants the same folder: it must not get it."""
        try:
            other.lock()
        except OutsideWorldError as error:
            self.require(error.code == "PHO509", f"a second player was refused with {error.code}")
            return
        self.fail("a second player got the folder of the first")

    # ---- after a step

    def after_step(self) -> None:
        """Hold everything against the laws."""
        self.steps_of_process += 1
        self._handed_out_table()
        self._hold_is_seen()
        self._clock()
        self._override()
        for lamp in self.world.lamps:
            wanted = self.wanted()
            if self._is_local(lamp):
                self._local_lamp(lamp, wanted)
            else:
                self._remote_lamp(lamp, wanted)
        self._rises()
        self._words()
        self._table()

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

    def _hold_is_seen(self) -> None:
        player = self.world.player
        assert player is not None
        self.held_steps = self.held_steps + 1 if self.is_held else 0
        if self.is_held:
            self.require(player.is_held or not can_be_seen(self.world), "a hold is not held")
            self.held_steps = self.held_steps if player.is_held else 0
        else:
            # A release that the player can't see leaves the lamps dark.
            self.require(not player.is_held or not can_read(self.world), "held, and nobody holds")

    def _clock(self) -> None:
        player = self.world.player
        assert player is not None
        if not player.clock.is_trusted or player.journal.log.fault is not None:
            self.logs_since = self.world.boot
        self.require(
            not player.clock.is_trusted or self.may_trust,
            "the clock is trusted, and nothing has set it since the board started",
        )

    def _override(self) -> None:
        """Light by hand ends by itself; a clock that was set between two starts may change that."""
        world = self.world
        assert world.player is not None
        self.is_clock_touched |= world.offset_s != 0
        if can_read(world):
            self.by_hand_before = None
        if world.player.override.active is None:
            return
        self.require(self.by_hand is not None, "light by hand, and nobody wanted it")
        assert self.by_hand is not None
        longest = self.by_hand
        if self.by_hand_before is not None:
            longest = max(
                self.by_hand, self.by_hand_before, key=lambda one: one.since_s + one.lasts_s
            )
        gone_s = world.boot_total() - longest.since_s
        self.require(
            gone_s <= longest.lasts_s + 1 or self.is_clock_touched,
            f"light by hand lasts {gone_s:.0f} s, and was given for {longest.lasts_s:.0f} s",
        )

    def _local_lamp(self, lamp: Lamp, wanted: tuple[int, ...]) -> None:
        world, channel = self.world, lamp.channel
        can_switch = self.reached[f"relay of '{channel}'"] >= STEPS_TO_SET
        can_set = self.reached[f"output of '{channel}'"] >= STEPS_TO_SET
        latch, code = world.kernel.latch(channel), world.kernel.code(channel)
        is_dark = not any(wanted)
        if is_dark and can_switch:
            self.require(not latch, f"'{channel}' is planned dark, and its relay is closed")
        if is_dark and can_set:
            self.require(
                code <= 1, f"'{channel}' is planned dark, and its converter holds code {code}"
            )
        if can_set and latch:
            most = code_of(max(wanted) + 1)
            self.require(
                is_dark or code <= most, f"'{channel}' has code {code}, above the plan's {most}"
            )
        if is_dark and world.is_lit(lamp):
            self.dark_steps[channel] += 1
            self._lit_in_the_dark(lamp)
        else:
            self.dark_steps[channel] = 0
            self.weld_since_s = math.inf if channel == "blue" else self.weld_since_s

    def _lit_in_the_dark(self, lamp: Lamp) -> None:
        """A lamp burns in planned darkness: that must be out of reach, and alarmed where it can be seen."""
        world, channel = self.world, lamp.channel
        assert world.player is not None
        if not self._can_be_seen(lamp):
            return
        by_sensor = lamp.welded or world.part("relay", channel).lies
        if by_sensor:
            self.weld_since_s = min(self.weld_since_s, world.boot_total())
            if (
                world.boot_total() - self.weld_since_s < SENSE_S
                or self.steps_of_process <= STEPS_TO_SET
            ):
                return
        alarms = [text for text in world.player.alarms.texts if f"'{channel}'" in text]
        if self.dark_steps[channel] > STEPS_TO_SET:
            self.require(
                bool(alarms), f"'{channel}' burns in planned darkness, and no alarm says so"
            )

    def _remote_lamp(self, lamp: Lamp, wanted: tuple[int, ...]) -> None:
        world = self.world
        assert world.server is not None and world.player is not None
        listener = world.server.listener
        if not any(wanted) and listener.is_lit:
            self.require(
                self.line_steps < STEPS_OF_A_LINE, "'white' is planned dark, and its listener burns"
            )
            self.dark_steps["white"] += 1
        else:
            self.dark_steps["white"] = 0
        if all(wanted) and not listener.is_lit:
            self.require(
                self.line_steps < STEPS_OF_A_LINE,
                "'white' is planned lit, and its listener is dark",
            )
        if listener.is_lit and self.line_steps >= STEPS_OF_A_LINE:
            self.require(
                listener.count <= max(wanted) + 1,
                f"'white' has {listener.count}, above the plan's {wanted}",
            )
        left_s = listener.until_s - world.boot_total()
        self.require(left_s <= EXPIRE_S, "a message to a listener lives longer than it may")

    def _rises(self) -> None:
        """No lamp gets brighter faster than a soft start lets it."""
        for lamp, level, ceiling in self._ceilings():
            if self._is_in_hand(lamp):
                self.require(
                    level <= ceiling + LEAP_COUNTS,
                    f"'{lamp.channel}' rose to {level:.1f} counts, and a soft start allows {ceiling:.1f}",
                )
                self.ceiling[lamp.channel] = min(ceiling, max(level, FLOOR))
            else:
                self._follow(lamp, level, ceiling)

    def _follow(self, lamp: Lamp, level: float, ceiling: float) -> None:
        """Nobody could do anything about a lamp: animals have got what it gave."""
        self.ceiling[lamp.channel] = max(min(ceiling, max(level, FLOOR)), level)

    def _ceilings(self) -> list[tuple[Lamp, float, float]]:
        now_s = self.world.boot_total()
        gone_s, self.looked_s = now_s - self.looked_s, now_s
        found = []
        for lamp in self.world.lamps:
            ceiling = min(self.ceiling[lamp.channel] + gone_s * float(SOFT_SLOPE), 100.0)
            found.append((lamp, self.world.level(lamp), ceiling))
        return found

    def _is_in_hand(self, lamp: Lamp) -> bool:
        """Return True if the player alone decides how a lamp burns."""
        if not self._is_local(lamp):
            return True  # a listener, too, has rules
        keys = (f"relay of '{lamp.channel}'", f"output of '{lamp.channel}'")
        return all(self.reached.get(key, 0) > 0 for key in keys) and not lamp.welded

    def _words(self) -> None:
        """What is recorded, and what the broker is told, is what is."""
        world = self.world
        player = world.player
        assert player is not None
        for lamp in world.lamps:
            id, held = lamp.channel, self._held(lamp)
            is_quiet = world.boot - self.logs_since > RECORD_S and self.steps_of_process > 1
            if held is None or not is_quiet:
                continue
            age_s = world.boot_total() - self.record_s.get(id, -math.inf)
            self.require(
                age_s <= RECORD_S, f"the log has had no record of '{id}' for {age_s:.0f} s"
            )
            code, relay = self.last_record[id]
            same = abs(code - held[0]) <= 1 and relay == held[1]
            self.require(same, f"the log says {code, relay} of '{id}', and it holds {held}")
        broker = world.broker
        if broker is not None and broker.is_connected and self.line_steps > 1:
            word = "held" if player.is_held else "running" if player.clock.is_trusted else "safe"
            self.require(
                broker.state == word, f"the broker was told '{broker.state}', and it is '{word}'"
            )

    def _held(self, lamp: Lamp) -> tuple[int, bool] | None:
        """Return converter code and relay of a lamp; None if something stands between it and the player."""
        world, id = self.world, lamp.channel
        if not self._is_local(lamp):
            assert world.server is not None
            listener = world.server.listener
            return (
                (code_of(listener.count), listener.closed)
                if self.line_steps >= STEPS_OF_A_LINE
                else None
            )
        keys = (f"relay of '{id}'", f"output of '{id}'")
        if any(self.reached[key] < STEPS_TO_SET for key in keys):
            return None
        return world.kernel.code(id), world.kernel.latch(id)

    def _handed_out_table(self) -> None:
        """A table that the broker has handed out is in the board's file: it is the right one from now on."""
        world = self.world
        if world.server is None or world.server.table is None or not world.table.is_file():
            return
        raw = world.server.table
        if raw in world.plans and world.table.read_bytes() == raw:
            world.server.table = None
            self.expect_table(raw)

    def expect_table(self, raw: bytes) -> None:
        """Another table is the right one from now on."""
        if raw != self.expected:
            self.right_before = (
                {self.expected} if self._was_seen() else self.right_before | {self.expected}
            ) - {raw}
            self.expected, self.expected_since_s = raw, self.world.boot_total()
            self.expected_looks = self.standing_looks = 0

    def _was_seen(self) -> bool:
        """Return True if the right table stood in its place for so many looks that a player plays it."""
        return self.standing_looks >= TABLE_LOOKS

    def _see_table(self) -> None:
        """A look of the player at the place of its table; one that vanishes too early need not be seen."""
        world = self.world
        if self._was_seen():
            return
        stands = (
            can_read(world) and world.table.is_file() and world.table.read_bytes() == self.expected
        )
        self.standing_looks = self.standing_looks + 1 if stands else 0

    def _table(self) -> None:
        player = self.world.player
        assert player is not None
        if not can_read(self.world):
            self.expected_since_s = self.world.boot_total()
        self._see_table()
        self.expected_looks += 1
        is_late = self.world.boot_total() - self.expected_since_s > TABLE_S
        if is_late and self.expected_looks > TABLE_LOOKS and self.steps_of_process > STEPS_TO_SET:
            right = {self.expected} if self._was_seen() else {self.expected} | self.right_before
            self.require(
                player.loaded.raw in right, "another table than the newest good one is played"
            )

    # ---- when all faults are over

    def all_is_well(self) -> None:
        """The last fault ended half an hour ago and more: the plan is played, and no alarm is left."""
        world = self.world
        player = world.player
        if player is None:
            raise Violation("no player runs, and no fault is left")
        is_open = world.server is not None and world.server.table is not None
        self.require(not is_open, "a table that the broker handed out was not taken")
        self.require(player.clock.is_trusted, "the clock is right, and is not trusted")
        self.require(not player.alarms.texts, f"alarms stay: {player.alarms.texts}")
        self.require(
            player.loaded.raw == self.expected, "another table than the newest good one is played"
        )
        wanted = world.plans[player.loaded.raw].wanted(self.step_shown)
        for lamp in world.lamps:
            level, lit = world.level(lamp), world.is_lit(lamp)
            self.require(
                lit == (wanted > 0), f"'{lamp.channel}' should have {wanted}, and burns: {lit}"
            )
            self.require(
                abs(level - wanted) <= 1.5,
                f"'{lamp.channel}' should have {wanted}, and has {level:.1f}",
            )
        self._log_can_be_read()

    def _log_can_be_read(self) -> None:
        for path in sorted((self.world.folder / "log").glob("run-*.csv"))[-2:]:
            raw = path.read_bytes()
            lines = raw.split(b"\r\n")
            self.require(lines[-1] == b"" and b"\0" not in raw, f"{path.name} has a torn line")
            bad = [line for line in lines[:-1] if line.count(b",") != 8]
            self.require(not bad, f"{path.name} has lines that are no records: {bad[:1]}")
            heads = [line for line in lines if line.startswith(b"time,")]
            self.require(len(heads) == 1, f"{path.name} has {len(heads)} heads")
