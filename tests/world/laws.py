"""What must hold after every step, whatever happened: judged by what is, never by what the player believes.

Source: docs/board.md says each of these to keepers; "step" there is a look at everything.
"""

from __future__ import annotations

import csv
import io
import math

from photoperiod.board.state_store import StateStore
from photoperiod.errors import OutsideWorldError
from tests.board.bench import FLOOR
from tests.world.disk import DiskState
from tests.world.kernel import Lamp, Part
from tests.world.known import can_be_seen, can_read
from tests.world.lamp_laws import STEPS_OF_A_LINE, STEPS_TO_SET, LampLaws
from tests.world.plan import code_of
from tests.world.wrong import Violation

#: Once the clock is trusted and the log can be written, it has a record of each channel after this time: it
#: gets one each minute (docs/board.md), and a step may be late. [s]
RECORD_S = 75.0

#: A newer table is played within this time (docs/board.md: twenty seconds at most), and two steps. [s]
TABLE_S = 40.0

#: A player that slept meanwhile looks at it once, sees that it has come to rest, and plays it.
TABLE_LOOKS = 3


class Laws(LampLaws):
    """The invariants of a world."""

    # ---- what happens

    def step_begins(self) -> None:
        """A step of the player is about to begin: what is in reach now can be set by it."""
        self.closed_now.clear()
        self.coded_now.clear()
        self._follow_out_of_reach()
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
