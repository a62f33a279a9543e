"""The player of a board: at each whole second, find out what has changed and put out what the table says.

`photoperiod.player.reference` computes the outputs. This module decides what it is given: whether the
clock is trusted, whether a person holds the lamps, and since when a soft start runs.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TextIO

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.broker_link import BrokerLink
from photoperiod.board.channel_output import ChannelOutput, SoftStartCause
from photoperiod.board.clock_trust import STEP_S, ClockWatch, same_boot
from photoperiod.board.config import BoardConfig
from photoperiod.board.devices.base import DeviceMismatch, Setting
from photoperiod.board.devices.sysfs import Files
from photoperiod.board.events import Event, PlayerState
from photoperiod.board.journal import Journal
from photoperiod.board.mqtt import Broker
from photoperiod.board.run_log import record
from photoperiod.board.state_store import RememberedOutput, State, StateStore
from photoperiod.board.system import System
from photoperiod.board.table_file import LoadedTable, TableFile, keep_good_table, table_from_bytes
from photoperiod.drive.grid import RelayKind
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.image import Image, day_number
from photoperiod.player.outputs import output_state
from photoperiod.player.reference import Output, Status, open_output, play
from photoperiod.text import utc_text

#: A step that comes so late makes a leap: the machine slept, or the process was stopped. [s]
LATE_S = 5.0

#: Longest pause between two looks at hold, table and clock. [s]
MAX_PAUSE_S = 10

#: Outputs that were set so recently still put out the same, if the machine has run on since. [s]
RECENT_S = 300.0

#: How often the state is saved if outputs have changed, and if they have not. [s]
SAVE_S, SAVE_IDLE_S = 60.0, 600.0

#: How often the devices are looked at although nothing is to be set, at the least. [s]
CHECK_DEVICES_S = 60

EXIT_INTERRUPTED = 130


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
    files : Files
        The kernel's device files.
    stream : TextIO or None
        Where outputs of kind ``stdout`` write.
    broker : Broker or None
        None if the board file names none, or until `start_player` connects to it.
    say : callable
        Shows people one line of text.
    """

    config: BoardConfig
    file: TableFile
    store: StateStore
    system: System
    files: Files
    stream: TextIO | None
    broker: Broker | None
    say: Callable[[str], None]


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
    """

    def __init__(
        self,
        around: Surroundings,
        loaded: LoadedTable,
        channels: Mapping[str, ChannelOutput],
        refused: OutsideWorldError | None = None,
    ) -> None:
        self.config, self.file, self.store = around.config, around.file, around.store
        self.system, self.say = around.system, around.say
        self.loaded, self.channels = loaded, channels
        self.is_held = False
        self.alarms = Alarms(around.say)
        self.journal = Journal(self.config.log_folder, self.system, self.alarms)
        self.clock = ClockWatch(
            self.config.trust, self.system, self.file, self.alarms, self.journal, around.say
        )
        self._start_boot_s = self._step_boot_s = self.system.boot_s()
        self._check_boot_s = self._saved_boot_s = self._start_boot_s
        self.link = BrokerLink(around.broker, self.alarms, self.journal, self._start_boot_s)
        self._state: State | None = None
        self._has_changed = True
        self._must_reload = False
        self._refused = refused

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
        self.journal.event(Event.START)
        if self._refused is not None:
            self._refuse(self._refused)
        self._keep_good_table()
        self.is_held = self.store.is_held()
        if self.is_held:
            self.journal.event(Event.HOLD)
            self.say("held: the lamps stay off until `photoperiod release`")
        self.clock.begin(state)

    def _is_recent(self, state: State) -> bool:
        """Return True if the outputs still put out what they did when a state was saved."""
        return same_boot(state, self.system) and self._start_boot_s - state.boot_s <= RECENT_S

    def run(self) -> int:
        """Play until a signal says stop; return the exit code."""
        while True:
            self.step()
            number = self.system.wait(self._period_s - self.system.unix_s() % self._period_s)
            if number in (signal.SIGTERM, signal.SIGINT):
                self.stop()
                return EXIT_INTERRUPTED if number == signal.SIGINT else 0
            if number == signal.SIGHUP:
                self._must_reload = True

    def stop(self) -> None:
        """Put out the safe state, and write everything down."""
        boot_s = self.system.boot_s()
        _, outputs = play(self.image, 0, 0, clock_valid=False)
        unix_s = int(self.system.unix_s())
        for channel, output in zip(self.channels.values(), outputs, strict=True):
            self._set(channel, self._held_open(channel, output), unix_s, boot_s)
        self.journal.event(Event.STOP)
        self._write_journal(unix_s, boot_s)
        self.journal.log.close(boot_s)
        self._save(boot_s)
        self._check_alarms_of_devices()
        self.link.close()
        self.say("stopped: the safe state is set")

    # ---- one step

    def step(self) -> None:
        """Do everything that is due at this second."""
        boot_s, now_s = self._times()
        self._notice_clock(now_s, boot_s)
        self._notice_hold()
        self._notice_offered_table()
        self._notice_table()
        self.link.check(boot_s, self.channels.values())
        unix_s = int(now_s // 1)
        outputs = self._outputs(unix_s, boot_s)
        for channel, output in zip(self.channels.values(), outputs, strict=True):
            self._set(channel, output, unix_s, boot_s)
        if boot_s - self._check_boot_s >= min(self.config.log_every_s, CHECK_DEVICES_S):
            self._check_boot_s = boot_s
            for channel in self.channels.values():
                channel.check_present(boot_s)
        self._check_alarms_of_devices()
        self._write_journal(unix_s, boot_s)
        since_s = boot_s - self._saved_boot_s
        is_due = since_s >= SAVE_IDLE_S or (self._has_changed and since_s >= SAVE_S)
        if is_due or self.journal.must_save_state:
            self._save(boot_s)
        self.link.publish_state(self._player_state())
        self._step_boot_s = boot_s

    def _times(self) -> tuple[float, float]:
        """Return the time since the start and the time of the clock, read at one moment.

        A busy machine may suspend this process between the two readings, which would look like a
        step of the clock.
        """
        while True:
            before_s = self.system.boot_s()
            now_s = self.system.unix_s()
            after_s = self.system.boot_s()
            if after_s - before_s < STEP_S / 4:
                return after_s, now_s

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
            self.say("held: the lamps are off" if is_held else "released")

    def _notice_offered_table(self) -> None:
        """Replace the file by a table that a broker sent, if it can be played."""
        raw = self.link.take_offered_table()
        if not raw:
            return
        try:
            loaded = self.loaded
            if raw != self.loaded.raw:
                loaded = table_from_bytes("the table that was handed out", raw, self.config)
                self._adapt_devices(loaded)
            self.file.write(raw)
        except OutsideWorldError as error:
            self._refuse(error)
        except OSError as error:
            self._adapt_devices(self.loaded)
            text = f"can't write '{self.file.path}': {os_reason(error)}"
            self.alarms.set(AlarmKey.TABLE, text)
            self.journal.event(Event.REFUSED)
        else:
            self._take(loaded)

    def _notice_table(self) -> None:
        """Take a newer table, or refuse it and go on with the present one."""
        if not self._must_reload and not self.file.has_changed():
            text = f"'{self.file.path}' is not there; the last good table goes on"
            if not self.file.is_there() and self.alarms.set(AlarmKey.TABLE, text):
                self.journal.event(Event.REFUSED)
            return
        self._must_reload = False
        try:
            loaded = self.file.load(self.config)
            self._adapt_devices(loaded)
        except OutsideWorldError as error:
            self._refuse(error)
            return
        self._take(loaded)

    def _take(self, loaded: LoadedTable) -> None:
        """Play a table from now on; the devices have been adapted to it."""
        self.alarms.clear(AlarmKey.TABLE)
        if loaded.raw == self.loaded.raw:
            return
        self.loaded = loaded
        for id, path in loaded.table.paths.items():
            self.channels[id].adopt(path)
        self.channels = {id: self.channels[id] for id in loaded.table.channels}
        self._leap()
        self.journal.event(Event.RELOAD)
        self.say(f"plays the new table in '{self.file.path}'")
        self._keep_good_table()

    def _adapt_devices(self, loaded: LoadedTable) -> None:
        """Adapt the outputs to the converter of another table, all of them or none."""
        try:
            for id, path in loaded.table.paths.items():
                self.channels[id].output.device.adapt_to(path.converter)
        except DeviceMismatch as error:
            for id, path in self.loaded.table.paths.items():
                self.channels[id].output.device.adapt_to(path.converter)
            raise OutsideWorldError("PHO507", str(error)) from error

    def _refuse(self, error: OutsideWorldError) -> None:
        self.alarms.set(AlarmKey.TABLE, f"{error.code}: {error}; the last good table goes on")
        self.journal.event(Event.REFUSED)

    def _keep_good_table(self) -> None:
        try:
            keep_good_table(self.store, self.loaded)
        except OSError as error:
            self._state_fault(error)

    def _leap(self) -> None:
        for channel in self.channels.values():
            channel.soft_start_cause = channel.soft_start_cause or SoftStartCause.LEAP

    # ---- what is put out

    def _outputs(self, unix_s: int, boot_s: float) -> list[Output]:
        """Return the output of every channel; begin and end soft starts and alarms about dates."""
        date, second = self.loaded.clock.wall_of(unix_s)
        day = day_number(date) if self.image.span is not None else 0
        status, outputs = play(
            self.image, day, second, clock_valid=self.clock.is_trusted, stopped=self.is_held
        )
        found = list(outputs)
        for at, (channel, image) in enumerate(
            zip(self.channels.values(), self.image.channels, strict=True)
        ):
            if Status.SAFE in status:
                channel.soft_start_cause = SoftStartCause.START
                channel.soft_start_boot_s = None
                found[at] = self._held_open(channel, found[at])
                continue
            channel.begin_soft_start(self.image, image, found[at], boot_s)
            if channel.soft_start_boot_s is not None:
                since_s = int(boot_s - channel.soft_start_boot_s)
                if since_s >= self.image.soft_start_minutes * 60:
                    channel.soft_start_boot_s = None
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

    def _set(self, channel: ChannelOutput, output: Output, unix_s: int, boot_s: float) -> None:
        is_due = boot_s - channel.logged_boot_s >= self.config.log_every_s - 0.5
        if not is_due and output == channel.present and channel.is_known:
            return
        state = output_state(channel.path, output.count, output.code, output.relay)
        has_changed = channel.set(output, Setting(channel.id, utc_text(unix_s), state), boot_s)
        self._has_changed |= has_changed
        if channel.is_known and (has_changed or is_due):
            channel.logged_boot_s = boot_s
            has_relay = self.image.relay != RelayKind.NONE or not output.relay
            self.journal.record(record(unix_s, channel.id, state, has_relay=has_relay))

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

    def _check_alarms_of_devices(self) -> None:
        for id, channel in self.channels.items():
            for name, status in channel.devices:
                key = f"{name} of '{id}'"
                if status.fault:
                    text = f"PHO507: the {key} ({status.device.name}) is lost: {status.fault}"
                    if self.alarms.set(key, text):
                        self.journal.event(Event.DEVICE_LOST)
                elif self.alarms.clear(key):
                    self.journal.event(Event.DEVICE_BACK)

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
            self.store.write_state(self._state)
        except OSError as error:
            self._state_fault(error)
        else:
            self.alarms.clear(AlarmKey.STATE)

    def _state_fault(self, error: OSError) -> None:
        text = f"the state folder can't be written: {os_reason(error)}"
        self.alarms.set(AlarmKey.STATE, text)

    def _player_state(self) -> PlayerState:
        if self.is_held:
            return PlayerState.HELD
        return PlayerState.RUNNING if self.clock.is_trusted else PlayerState.SAFE
