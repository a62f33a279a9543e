"""The player of a board: at each whole second, find out what has changed and put out what the table says.

`photoperiod.player.reference` computes the outputs. This module decides what it is given: whether the
clock is trusted, whether a person holds the lamps, and since when a soft start runs.
"""

from __future__ import annotations

import math
import signal
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TextIO

from photoperiod.board.alarm_hook import AlarmHook
from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.broker_link import BrokerLink
from photoperiod.board.channel_output import ChannelOutput, SoftStartCause
from photoperiod.board.clock_trust import ClockWatch, read_clocks, same_boot
from photoperiod.board.config import BoardConfig
from photoperiod.board.device_alarms import DeviceAlarms, lamps_text
from photoperiod.board.devices.base import Setting
from photoperiod.board.devices.sysfs import Writers
from photoperiod.board.events import Event, PlayerState
from photoperiod.board.journal import Journal
from photoperiod.board.metrics import Snapshot
from photoperiod.board.mqtt import Broker
from photoperiod.board.override import Overriding
from photoperiod.board.run_log import record
from photoperiod.board.sensors import STOP_WAIT_S, Sensors, SensorStatus
from photoperiod.board.state_store import RememberedOutput, State, StateStore
from photoperiod.board.system import System
from photoperiod.board.table_changes import TableChanges
from photoperiod.board.table_file import LoadedTable, TableFile
from photoperiod.board.watching import Watching, snapshot_of
from photoperiod.drive.grid import RelayKind
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.image import Image, day_number
from photoperiod.player.outputs import output_state
from photoperiod.player.reference import Output, Status, open_output, play, soft_ceiling
from photoperiod.text import utc_text

#: A step that comes so late makes a leap: the machine slept, or the process was stopped. [s]
LATE_S = 5.0

#: Longest pause between two looks at hold, table and clock. [s]
MAX_PAUSE_S = 10

#: Outputs that were set so recently still put out the same, if the machine has run on since. [s]
RECENT_S = 300.0

#: How often the state is saved if outputs have changed, and if they have not. [s]
SAVE_S, SAVE_IDLE_S = 60.0, 600.0

EXIT_INTERRUPTED, EXIT_NOT_SAFE = 130, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """All that a player works with besides its table.

    Parameters
    ----------
    config : BoardConfig
        The board.
    file : TableFile
        Where newer tables come from.
    store : StateStore
        The player's own folder, locked.
    system : System
        Time and signals.
    writers : Writers
        Gives each device the files through which it is set.
    stream : TextIO or None
        Where outputs of kind ``stdout`` write.
    broker : Broker or None
        None if the board file names none, or until `start_player` connects to it.
    say : callable
        Shows people one line of text.
    hook : AlarmHook or None
        What is run for each alarm.
    """

    config: BoardConfig
    file: TableFile
    store: StateStore
    system: System
    writers: Writers
    stream: TextIO | None
    broker: Broker | None
    say: Callable[[str], None]
    hook: AlarmHook | None = None


class Player:
    """A player on a board.

    Parameters
    ----------
    around : Surroundings
        All that it works with.
    loaded : LoadedTable
        The table to begin with.
    channels : mapping of id to ChannelOutput
        The devices of each channel, in the order of the table.
    refused : OutsideWorldError or None
        Why it begins with the copy of the last good table, if it does.
    sensors : mapping of id to sequence of SensorStatus
        What measures the lamps of a channel.
    """

    def __init__(
        self,
        around: Surroundings,
        loaded: LoadedTable,
        channels: Mapping[str, ChannelOutput],
        refused: OutsideWorldError | None = None,
        sensors: Mapping[str, Sequence[SensorStatus]] | None = None,
    ) -> None:
        self.config, self.file, self.store = around.config, around.file, around.store
        self.system, self.say = around.system, around.say
        self.is_held = False
        self.alarms = Alarms(around.say)
        self.journal = Journal(self.config.log_folder, self.system, self.alarms, around.store.disk)
        self.clock = ClockWatch(
            self.config.trust, self.system, self.file, self.alarms, self.journal, around.say
        )
        self._start_boot_s = self._step_boot_s = self.system.boot_s()
        self._saved_boot_s = self._start_boot_s
        self.tables = TableChanges(
            self.config,
            self.file,
            self.store,
            self.alarms,
            self.journal,
            around.say,
            loaded,
            channels,
        )
        self.device_alarms = DeviceAlarms(self.alarms, self.journal)
        self.sensors = Sensors(sensors or {}, self.alarms, self.journal)
        self._sensed_boot_s = -math.inf
        self.override = Overriding(
            self.store.folder,
            self.store.disk,
            self.system,
            self.alarms,
            self.journal,
            around.say,
        )
        self.link = BrokerLink(around.broker, self.alarms, self.journal, self._start_boot_s)
        self._state: State | None = None
        self._has_changed = True
        self.watching = Watching(
            self.config.metrics_file, around.hook, self.alarms, self.store.disk
        )
        self._steps = 0
        self._must_write = True
        self._was_safe = self._is_ready = False
        self._held_text = ""
        self._refused = refused

    @property
    def loaded(self) -> LoadedTable:
        """The table that is played."""
        return self.tables.loaded

    @property
    def channels(self) -> Mapping[str, ChannelOutput]:
        """The devices of each channel, in the order of the table."""
        return self.tables.channels

    @property
    def image(self) -> Image:
        """The tables that are played."""
        return self.loaded.table.image

    @property
    def _period_s(self) -> int:
        """The time from step to step. [s]"""
        return min(self.image.every_seconds, MAX_PAUSE_S)

    # ---- beginning and end

    def begin(self) -> None:
        """Find out what the outputs put out already and whether the clock can be trusted.

        Raises
        ------
        DeviceMismatch
            If a device is not what the board file says.
        """
        state = self._state = self.store.read_state()
        recent: Mapping[str, RememberedOutput] = {}
        if state is not None and self._is_recent(state):
            recent = state.outputs
        for id, channel in self.channels.items():
            channel.begin(recent.get(id))
        self.journal.begin()
        self.journal.event(Event.START)
        if self._refused is not None:
            self.tables.refuse(self._refused)
        try:
            self.store.disk.make_folder(self.store.folder)
        except OSError as error:
            self.alarms.state_folder(error)
        self.tables.keep_good()
        self.is_held = self.store.is_held()
        if self.is_held:
            self.journal.event(Event.HOLD)
        self.clock.begin(state)

    def _is_recent(self, state: State) -> bool:
        """Return True if the outputs still put out what they did when a state was saved."""
        return same_boot(state, self.system) and self._start_boot_s - state.boot_s <= RECENT_S

    def run(self) -> int:
        """Play until a signal says stop; return the exit code."""
        while True:
            self.step()
            self._tell_service()
            number = self.system.wait(self._period_s - self.system.unix_s() % self._period_s)
            if number in (signal.SIGTERM, signal.SIGINT):
                is_safe = self.stop()
                if not is_safe:
                    return EXIT_NOT_SAFE
                return EXIT_INTERRUPTED if number == signal.SIGINT else 0
            if number == signal.SIGHUP:
                self.tables.must_reload = self._must_write = True

    def _tell_service(self) -> None:
        """Tell the service manager that the player plays; the clock need not be trusted for that."""
        if not self._is_ready:
            self.system.tell_service("READY=1")
            self._is_ready = True
        self.system.tell_service("WATCHDOG=1")

    def stop(self) -> bool:
        """Put out the safe state, and write everything down; return True if all outputs have it.

        Everything is written, whatever it was given before: something else may have switched a lamp on.
        """
        boot_s = self.system.boot_s()
        _, outputs = play(self.image, 0, 0, clock_valid=False)
        unix_s = int(self.system.unix_s())
        self._must_write = True
        wanted = [
            self._held_open(channel, output)
            for channel, output in zip(self.channels.values(), outputs, strict=True)
        ]
        self._set_all(wanted, unix_s, boot_s)
        self.journal.event(Event.STOP)
        self._write_journal(unix_s, boot_s)
        self.journal.log.sync(boot_s, now=True)
        self._save(boot_s)
        self.device_alarms.check(self.channels, boot_s)
        self.watching.step(boot_s, lambda: self._snapshot(PlayerState.STOPPED), now=True)
        self.link.close()
        if self.sensors.statuses:
            self.system.wait(STOP_WAIT_S)
            self.sensors.look(self.channels, boot_s)
        told, is_safe = lamps_text(self.channels.values(), wanted, self.sensors)
        if is_safe:
            self.say("stopped: the safe state is set" + (f"; {told}" if told else ""))
            return True
        self.say(f"stopped, but not all is safe: {told}")
        return False

    # ---- one step

    def step(self) -> None:
        """Do everything that is due at this second."""
        boot_s, now_s = read_clocks(self.system)
        self._notice_clock(now_s, boot_s)
        self._notice_hold()
        if self.override.notice(is_trusted=self.clock.is_trusted):
            self._leap()
        self.tables.notice_offered(self.link.take_offered_table())
        self.tables.notice_file()
        self.link.check(boot_s, self.channels.values())
        unix_s = int(now_s // 1)
        self._look(unix_s, boot_s)
        outputs = self._outputs(unix_s, boot_s)
        self._set_all(outputs, unix_s, boot_s)
        self._sense(unix_s, boot_s)
        self._tell_hold(outputs, boot_s)
        self.device_alarms.check(self.channels, boot_s)
        self._write_journal(unix_s, boot_s)
        since_s = boot_s - self._saved_boot_s
        is_due = since_s >= SAVE_IDLE_S or (self._has_changed and since_s >= SAVE_S)
        if is_due or self.journal.must_save_state:
            self._save(boot_s)
        self.link.publish_state(self._player_state())
        self._steps += 1
        self.watching.step(boot_s, lambda: self._snapshot(self._player_state()))
        self._step_boot_s = boot_s

    def _notice_clock(self, now_s: float, boot_s: float) -> None:
        """Find out whether the clock was stepped, is trusted now, or the machine slept."""
        if self.clock.notice_step(now_s, boot_s):
            self._leap()
        if boot_s - self._step_boot_s > LATE_S + self._period_s:
            self.say(f"this step comes {boot_s - self._step_boot_s:.0f} s after the last")
            self._leap()
        self.clock.try_to_trust(self._state)

    def _notice_hold(self) -> None:
        is_held = self.store.is_held(self.is_held)
        if is_held != self.is_held:
            self.is_held = is_held
            self.journal.event(Event.HOLD if is_held else Event.RELEASE)
            self._must_write = True
            if not is_held:
                self.say("released")

    def _sense(self, unix_s: int, boot_s: float) -> None:
        self.sensors.look(self.channels, boot_s)
        if boot_s - self._sensed_boot_s >= self.config.log_every_s - 0.5:
            self._sensed_boot_s = boot_s
            self.sensors.record(self.channels, unix_s)

    def _tell_hold(self, outputs: Sequence[Output], boot_s: float) -> None:
        """Say what a hold has done: that lamps are off only after all was written, read back and sensed."""
        text = ""
        if self.is_held:
            told, is_sure = lamps_text(self.channels.values(), outputs, self.sensors, boot_s)
            if is_sure and not self.sensors.are_settled(boot_s):
                return
            text = f"held, but {told}" if told else "held: the lamps are off"
            if told:
                self.alarms.set(AlarmKey.HOLD, text)
            elif text != self._held_text:
                self.say(f"{text}, until `photoperiod release`")
        if text in ("", "held: the lamps are off"):
            self.alarms.clear(AlarmKey.HOLD)
        self._held_text = text

    def _leap(self) -> None:
        for channel in self.channels.values():
            channel.leap()

    # ---- what is put out

    def _outputs(self, unix_s: int, boot_s: float) -> list[Output]:
        """Return the output of every channel; begin and end soft starts and alarms about dates."""
        date, second = self.loaded.clock.wall_of(unix_s)
        day = day_number(date) if self.image.span is not None else 0
        status, outputs = play(
            self.image, day, second, clock_valid=self.clock.is_trusted, stopped=self.is_held
        )
        found, is_safe = list(outputs), Status.SAFE in status
        if not is_safe:
            planned = dict(zip(self.channels, outputs, strict=True))
            table, channels = self.loaded.table, self.channels
            found = list(self.override.apply(table, date, channels, planned).values())
        self._must_write |= is_safe and not self._was_safe
        self._was_safe = is_safe
        for at, (channel, image) in enumerate(
            zip(self.channels.values(), self.image.channels, strict=True)
        ):
            if is_safe:
                channel.soft_start_cause = SoftStartCause.START
                channel.soft_start_boot_s = None
                found[at] = self._held_open(channel, found[at])
                continue
            channel.begin_soft_start(self.image, image, found[at], boot_s)
            if channel.soft_start_boot_s is not None:
                since_s = int(boot_s - channel.soft_start_boot_s)
                if since_s >= self.image.soft_start_minutes * 60:
                    channel.soft_start_boot_s = None
                elif found[at] != outputs[at]:  # by hand
                    most = soft_ceiling(self.image, image, since_s)
                    if found[at].count > most:
                        found[at] = Output(most, self.image.code_of(most), True)
                else:
                    _, softly = play(self.image, day, second, since_start_s=since_s)
                    found[at] = softly[at]
        self._check_alarms_of_dates(status)
        return found

    def _held_open(self, channel: ChannelOutput, output: Output) -> Output:
        """Return an output of the safe state; while a person holds the lamps its relay is open."""
        if self.is_held and channel.can_open:
            return open_output(self.image)
        return output

    def _look(self, unix_s: int, boot_s: float) -> None:
        """Read the devices back, and log what they hold if it is not what they were given."""
        for channel in self.channels.values():
            if channel.look(boot_s):
                self._log(channel, unix_s)

    def _set_all(self, outputs: Sequence[Output], unix_s: int, boot_s: float) -> None:
        must_write, self._must_write = self._must_write, False
        for channel, output in zip(self.channels.values(), outputs, strict=True):
            self._set(channel, output, unix_s, boot_s, again=must_write)

    def _set(
        self, channel: ChannelOutput, output: Output, unix_s: int, boot_s: float, *, again: bool
    ) -> None:
        is_due = boot_s - channel.logged_boot_s >= self.config.log_every_s - 0.5
        is_there = output == channel.present and channel.is_known
        if is_there and not (is_due or again or channel.repeats):
            return
        state = output_state(channel.path, output.count, output.code, output.relay)
        setting = Setting(channel.id, utc_text(unix_s), state)
        has_changed = channel.set(output, setting, boot_s, again=again)
        self._has_changed |= has_changed
        if (has_changed or is_due) and self._log(channel, unix_s):
            channel.logged_boot_s = boot_s

    def _log(self, channel: ChannelOutput, unix_s: int) -> bool:
        """Log what the devices of a channel hold, if that is known."""
        held = channel.present
        if held is None or not channel.is_told:
            return False
        state = output_state(channel.path, held.count, held.code, held.relay)
        has_relay = self.image.relay != RelayKind.NONE or not held.relay
        self.journal.record(record(unix_s, channel.id, state, has_relay=has_relay))
        return True

    # ---- alarms, log and state

    def _check_alarms_of_dates(self, status: Status) -> None:
        if Status.SAFE in status:
            return
        for flag, key, event, text in (
            (
                Status.EXPIRED,
                AlarmKey.EXPIRED,
                Event.EXPIRED,
                "the table is past its last date; the last one goes on",
            ),
            (
                Status.EARLY,
                AlarmKey.EARLY,
                Event.EARLY,
                "the table has not begun yet; its first one is played",
            ),
        ):
            if flag not in status:
                self.alarms.clear(key)
            elif self.alarms.set(key, text):
                self.journal.event(event)

    def _write_journal(self, unix_s: int, boot_s: float) -> None:
        self.journal.write(unix_s, boot_s, self.clock.offset_s, is_trusted=self.clock.is_trusted)

    def _save(self, boot_s: float) -> None:
        self._saved_boot_s, self._has_changed = boot_s, False
        self.journal.must_save_state = False
        outputs = {
            id: RememberedOutput(channel.present.code, channel.present.relay)
            for id, channel in self.channels.items()
            if channel.present is not None
        }
        unix_s, before = self.system.unix_s(), self._state
        if not self.clock.is_trusted and before is not None and before.is_trusted:
            # A wrong time must not replace the last right one. The outputs have gone dark since.
            self._state = replace(before, outputs={})
        else:
            self._state = State(
                boot_id=self.system.boot_id,
                boot_s=boot_s,
                unix_s=unix_s,
                is_trusted=self.clock.is_trusted,
                outputs=outputs,
            )
        try:
            self.store.mend(self.is_held)
            self.store.write_state(self._state)
        except OSError as error:
            self.alarms.state_folder(error)
        else:
            self.alarms.clear(AlarmKey.STATE)

    def _snapshot(self, state: PlayerState) -> Snapshot:
        """Return what those who watch are told."""
        return snapshot_of(
            self.loaded,
            self.channels,
            self.alarms,
            state=state,
            is_trusted=self.clock.is_trusted,
            unix_s=self.system.unix_s(),
            steps=self._steps,
        )

    def _player_state(self) -> PlayerState:
        if self.is_held:
            return PlayerState.HELD
        return PlayerState.RUNNING if self.clock.is_trusted else PlayerState.SAFE
