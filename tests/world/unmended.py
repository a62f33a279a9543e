"""Mends taken out again, each by its name: the seeds in `seeds.txt` must fail without theirs.

The first ones are mends of the player, the others of the world itself, which had judged it wrongly.
"""

from __future__ import annotations

import math
import signal
from collections.abc import Callable
from typing import Any

import pytest

from photoperiod.board import clock_trust, disk, memory
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.clock_trust import ClockWatch
from photoperiod.board.device_status import DeviceStatus
from photoperiod.board.devices.mqtt import MqttDevice
from photoperiod.board.memory import Memory
from photoperiod.board.run_log import RunLog
from photoperiod.board.sensors import SensorStatus
from photoperiod.board.state_store import StateStore
from photoperiod.board.table_changes import TableChanges
from tests.board.fake_kernel import FakeLines
from tests.world import laws, machine, story
from tests.world.broker import Listener, WorldBroker
from tests.world.laws import Laws
from tests.world.machine import World

Patch = pytest.MonkeyPatch
Unmend = Callable[[Patch], None]

# ---- the log and the folder


def torn_head(patch: Patch) -> None:
    """A torn head with zeros behind it stays in the log."""
    real = disk._cut_torn_line

    def cut(file: int, head: bytes) -> None:
        if disk.os.fstat(file).st_size > len(head):
            real(file, head)

    patch.setattr(disk, "_cut_torn_line", cut)


def torn_yesterday(patch: Patch) -> None:
    """A torn line stays in the log of the day before."""
    patch.setattr(RunLog, "mend", lambda _: None)


def table_forgotten(patch: Patch) -> None:
    """A table that is handed out while the disk is read-only is forgotten."""
    real = TableChanges.notice_offered

    def notice(self: TableChanges, raw: bytes | None) -> None:
        self._unwritten = None
        real(self, raw)

    patch.setattr(TableChanges, "notice_offered", notice)


def hold_comes_back(patch: Patch) -> None:
    """A hold that was released on a read-only card comes back with a restart."""
    patch.setattr(StateStore, "_remove_released", lambda _: None)


def state_stays(patch: Patch) -> None:
    """A full card keeps the state of a lamp that has gone dark since."""
    real = StateStore.write_state

    def write(self: StateStore, state: Any) -> OSError | None:
        runtime, self.runtime = self.runtime, None
        try:
            return real(self, state)
        finally:
            self.runtime = runtime

    patch.setattr(StateStore, "write_state", write)


def unmended_folder(patch: Patch) -> None:
    """A state is not written at all where its folder can't be looked at."""

    def write(self: Memory, state: Any, is_held: bool) -> None:
        try:
            self.store.mend(is_held)
            fault = self.store.write_state(state)
        except OSError as error:
            fault = error
        if fault is not None:
            self.alarms.state_folder(fault)
        else:
            self.alarms.clear(memory.AlarmKey.STATE)
            self._written = state.outputs

    patch.setattr(Memory, "_write", write)


def lost_or_released(patch: Patch) -> None:
    """A hold that was released is taken for one that was lost with its folder."""
    patch.setattr(StateStore, "_was_second_removed", lambda _: False)


def half_released(patch: Patch) -> None:
    """A release that fails has released half of the hold."""
    real = StateStore.release

    def release(self: StateStore) -> bool:
        beside = self._beside("hold")
        if beside is not None and self.disk.look(beside) is not None:
            self.disk.remove(beside)
        return real(self)

    patch.setattr(StateStore, "release", release)


def deaf_to_lit(patch: Patch) -> None:
    """What a sensor says is forgotten while the converter of its lamp is lost."""
    patch.setattr(ChannelOutput, "open_output", None)
    real = SensorStatus.look

    def look(self: SensorStatus, channel: ChannelOutput, boot_s: float) -> None:
        real(self, channel, boot_s)
        if channel.present is None:
            self.difference, self.burns = "", False

    patch.setattr(SensorStatus, "look", look)


def copy_lost(patch: Patch) -> None:
    """The copy of the last good table stays lost with its folder."""
    patch.setattr(TableChanges, "mend_good", lambda _: None)
    real = Laws.not_started

    def not_started(self: Laws, code: str) -> None:
        real(self, code)
        self.fail("a player that has played does not start")

    patch.setattr(Laws, "not_started", not_started)


def copy_stays_older(patch: Patch) -> None:
    """The copy of the last good table stays what it was when the disk refused a newer one."""
    real = TableChanges.keep_good

    def keep(self: TableChanges) -> None:
        real(self)
        self.is_good_kept = True

    patch.setattr(TableChanges, "keep_good", keep)


def relay_not_asked(patch: Patch) -> None:
    """A relay is not looked for while its lamp should burn and its converter is lost."""
    real = ChannelOutput._try_again

    def try_again(self: ChannelOutput, status: DeviceStatus, boot_s: float) -> None:
        if status is self.output or not self.output.fault or not self._is_wanted_lit:
            real(self, status, boot_s)

    set_both = ChannelOutput.set

    def note(self: ChannelOutput, wanted: Any, *more: Any, **others: Any) -> bool:
        self._is_wanted_lit = wanted.relay
        return set_both(self, wanted, *more, **others)

    patch.setattr(ChannelOutput, "_is_wanted_lit", False, raising=False)
    patch.setattr(ChannelOutput, "set", note)
    patch.setattr(ChannelOutput, "_try_again", try_again)


# ---- topics


def refused_renewal(patch: Patch) -> None:
    """A renewal that the broker refuses is not told."""
    patch.setattr(MqttDevice, "read_back", lambda _: None)


def lasting_refusal(patch: Patch) -> None:
    """A refusal is taken for lasting: the broker is not asked again."""
    real = MqttDevice.read_back

    def read_back(self: MqttDevice) -> None:
        self._is_asking = False
        real(self)

    patch.setattr(MqttDevice, "read_back", read_back)


def dark_too_late(patch: Patch) -> None:
    """A topic goes dark before the state says so."""
    patch.setattr(Memory, "says_more", lambda *_: False)


def unconfirmed_rises(patch: Patch) -> None:
    """A level rises while the broker has not confirmed the one before."""
    patch.setattr(ChannelOutput, "confirmed", lambda _, wanted: wanted)


def believed_line(patch: Patch) -> None:
    """What was told counts, whether or not the broker confirmed it."""
    unconfirmed_rises(patch)  # or it would be told nothing that is much brighter
    real = ChannelOutput._note_least

    def note(self: ChannelOutput) -> None:
        self._least = None
        real(self)

    patch.setattr(ChannelOutput, "_note_least", note)


def untold_relay(patch: Patch) -> None:
    """A relay that follows its level is not told again after a broken line."""
    real = ChannelOutput.publish_again

    def again(self: ChannelOutput) -> None:
        told = self.relay.value
        real(self)
        if not self.relay.is_remote:
            self.relay.value = told

    patch.setattr(ChannelOutput, "publish_again", again)


# ---- soft starts


def stuck_leaps(patch: Patch) -> None:
    """A converter that is stuck during a soft start leaps when it is free."""
    real = ChannelOutput._set

    def set_one(self: ChannelOutput, status: DeviceStatus, *more: Any, **others: Any) -> bool:
        cause = self.soft_start_cause
        is_set = real(self, status, *more, **others)
        if not is_set and status.is_ready and not status.fault:
            self.soft_start_cause = cause
        return is_set

    patch.setattr(ChannelOutput, "_set", set_one)


def outside_begins(patch: Patch) -> None:
    """Light from outside is the beginning of a soft start."""
    patch.setattr(ChannelOutput, "_soft_start_from", lambda self: self.present)


def outside_shortens(patch: Patch) -> None:
    """Light from outside shortens a soft start."""

    def start_from(self: ChannelOutput) -> Any:
        before = self._before_outside
        return self.present if before is None or self.is_lit(before) else before

    patch.setattr(ChannelOutput, "_soft_start_from", start_from)
    real = ChannelOutput.begin_soft_start

    def begin(self: ChannelOutput, *more: Any) -> None:
        if self.soft_start_cause is not None:
            self.soft_start_boot_s = None
        real(self, *more)

    patch.setattr(ChannelOutput, "begin_soft_start", begin)


def small_leaps(patch: Patch) -> None:
    """A rise of 2 % at once is no leap, whatever comes next."""
    real = ChannelOutput.begin_soft_start

    def begin(self: ChannelOutput, image: Any, channel: Any, wanted: Any, boot_s: float) -> None:
        now = self._soft_start_from()
        if now is not None and self.is_lit(now) and wanted.count <= now.count + 2:
            self.soft_start_cause = None
        real(self, image, channel, wanted, boot_s)

    patch.setattr(ChannelOutput, "begin_soft_start", begin)


# ---- the clock


def time_ahead_kept(patch: Patch) -> None:
    """A time that leapt is kept, and a start with the right one waits for it."""
    patch.setattr(memory, "time_to_keep", lambda _before, system, _boot_s: system.unix_s())
    patch.setattr(clock_trust, "SETTLED_S", math.inf)


def never_settles(patch: Patch) -> None:
    """A clock that is right again stays refused, as long as nobody comes."""
    patch.setattr(ClockWatch, "_settle", lambda *_: None)


# ---- the world itself


def lost_offer(patch: Patch) -> None:
    """The world loses a table that its broker has handed out."""

    def take(self: WorldBroker) -> bytes | None:
        raw, self.server.table = self.server.table, None
        return raw if self.is_connected else None

    patch.setattr(WorldBroker, "take_offered_table", take)


def last_write(patch: Patch) -> None:
    """The world takes the last write of a killed player for one of the next."""
    real = Laws.step_begins

    def begins(self: Laws) -> None:
        closed, coded = set(self.closed_now), set(self.coded_now)
        real(self)
        if self.steps_of_process == 0:
            self.closed_now |= closed
            self.coded_now |= coded

    def was_down(self: Laws) -> None:
        for lamp, level, ceiling in self._ceilings():
            self._follow(lamp, level, ceiling)

    patch.setattr(Laws, "step_begins", begins)
    patch.setattr(Laws, "was_down", was_down)


def lit_out_of_reach(patch: Patch) -> None:
    """The world takes what something else lit while a converter hung for a leap of the player."""
    patch.setattr(Laws, "_follow_out_of_reach", lambda _: None)


def unreadable_hold(patch: Patch) -> None:
    """The world wants a hold seen that nobody can read."""
    patch.setattr(laws, "can_be_seen", lambda *_: True)


def held_in_memory(patch: Patch) -> None:
    """The world forgets that a hold in memory is lost with the power."""
    real = World._lose_power

    def lose(self: World) -> None:
        was_held = self.is_held
        real(self)
        self.set_held(was_held)

    patch.setattr(World, "_lose_power", lose)


def step_too_far(patch: Patch) -> None:
    """The world moves the time of a step too far, so that a player that slept does not know it."""
    real = World.wait

    def wait(self: World, seconds: float) -> signal.Signals | None:
        found = real(self, seconds)
        if self.player is not None and self.jumped_s:
            self.player._step_boot_s = self.boot
        return found

    patch.setattr(World, "wait", wait)


def middle_of_a_jump(patch: Patch) -> None:
    """The world judges a soft start in the middle of a jump."""
    patch.setattr(machine, "STEP_BEFORE_S", 0.0)
    patch.setattr(story, "TWO_STEPS_S", 0.0)


def unseen_table(patch: Patch) -> None:
    """The world wants a table played that was removed before anybody could see it."""
    patch.setattr(Laws, "_was_seen", lambda _: True)


def fault_in_a_jump(patch: Patch) -> None:
    """A fault that comes at the second of a step finds a listener at the level from before the jump."""
    unconfirmed_rises(patch)  # or a slow broker would bring it there in small steps
    patch.setattr(machine, "STEP_BEFORE_S", 0.0)


def looks_in_sleep(patch: Patch) -> None:
    """The world wants a newer table played by a player that has slept since it came."""
    patch.setattr(laws, "TABLE_LOOKS", 0)


def listener_leaps(patch: Patch) -> None:
    """A listener goes on at once from the level that it kept over a broken line."""
    patch.setattr(Listener, "miss", lambda self: setattr(self, "has_missed", False))


def line_kept(patch: Patch) -> None:
    """The world's kernel keeps a line for a player whose request has failed."""

    def take(self: FakeLines, chip: str, offset: int, use: Any) -> bool:
        (line,) = (one for one in self.kernel.lines if (one.chip, one.offset) == (chip, offset))
        if line is not self.line or use != self.use:
            self.let_go()
            if line.holder is not None or not self.kernel.lock(f"{line.folder}/value"):
                raise OSError(16, "Device or resource busy")
            line.holder, self.line, self.use = use.consumer, line, use
            self.kernel.holders.append(self)
            self._direct(line, use)
        return self.get()

    patch.setattr(FakeLines, "take", take)


UNMENDED: dict[str, Unmend] = {
    unmend.__name__: unmend
    for unmend in (
        torn_head,
        torn_yesterday,
        table_forgotten,
        hold_comes_back,
        state_stays,
        unmended_folder,
        lost_or_released,
        half_released,
        deaf_to_lit,
        copy_lost,
        copy_stays_older,
        relay_not_asked,
        refused_renewal,
        lasting_refusal,
        dark_too_late,
        unconfirmed_rises,
        believed_line,
        untold_relay,
        stuck_leaps,
        outside_begins,
        outside_shortens,
        small_leaps,
        time_ahead_kept,
        never_settles,
        lost_offer,
        last_write,
        lit_out_of_reach,
        unreadable_hold,
        held_in_memory,
        step_too_far,
        middle_of_a_jump,
        fault_in_a_jump,
        unseen_table,
        looks_in_sleep,
        line_kept,
        listener_leaps,
    )
}
