"""The player of a board: at each whole second, find out what has changed and put out what the table says.

This module is the order in which things happen: at the start, in a step, and at a stop. What each lamp should
get is in `wanted_outputs`, how it is given in `output_setter`, what outlives a restart in `memory`.
"""

from __future__ import annotations

import math
import signal
from collections.abc import Mapping, Sequence

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.broker_link import BrokerLink
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.clock_trust import ClockWatch, read_clocks
from photoperiod.board.device_alarms import DeviceAlarms, lamps_text, let_go_text
from photoperiod.board.events import Event, PlayerState
from photoperiod.board.journal import Journal
from photoperiod.board.memory import Memory
from photoperiod.board.metrics import Snapshot
from photoperiod.board.output_setter import OutputSetter
from photoperiod.board.override import Overriding
from photoperiod.board.sensors import STOP_WAIT_S, Sensors, SensorStatus
from photoperiod.board.surroundings import Surroundings
from photoperiod.board.table_changes import TableChanges
from photoperiod.board.table_file import LoadedTable
from photoperiod.board.wanted_outputs import WantedOutputs
from photoperiod.board.watching import Watching, snapshot_of
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.image import Image
from photoperiod.player.reference import Output

#: A step that comes so late makes a leap: the machine slept, or the process was stopped. [s]
LATE_S = 5.0

#: Longest pause between two looks at hold, table and clock. [s]
MAX_PAUSE_S = 10

EXIT_INTERRUPTED, EXIT_NOT_SAFE = 130, 4


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
        self.memory = Memory(self.store, self.system, self.clock, self.alarms)
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
        self.watching = Watching(
            self.config.metrics_file, around.hook, self.alarms, self.store.disk
        )
        self.wanted = WantedOutputs(self.clock, self.override, self.alarms, self.journal)
        self.setter = OutputSetter(self.tables, self.memory, self.journal, self.config.log_every_s)
        self._steps = 0
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
        recent = self.memory.begin()
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
        self.clock.begin(self.memory.state)

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
                self.tables.must_reload = self.setter.must_write = True

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
        boot_s, now_s = read_clocks(self.system)
        self.clock.notice_step(now_s, boot_s)  # a time that has leapt is not written down
        unix_s = int(now_s // 1)
        self.setter.must_write = True
        wanted = self.wanted.safe_state(self.image, self.channels, is_held=self.is_held)
        self.setter.set_all(wanted, unix_s, boot_s, is_held=self.is_held)
        self.journal.event(Event.STOP)
        self._write_journal(unix_s, boot_s)
        self.journal.log.sync(boot_s, now=True)
        self.memory.save(self.channels, boot_s, is_held=self.is_held)
        self.journal.must_save_state = False
        self.device_alarms.check(self.channels, boot_s)
        self.watching.step(boot_s, lambda: self._snapshot(PlayerState.STOPPED), now=True)
        self.link.close()
        if self.sensors.statuses:
            self.system.sleep(STOP_WAIT_S)  # contactors and lamps take a moment
            self.sensors.look(self.channels, boot_s)
        told, is_safe = lamps_text(self.channels.values(), wanted, self.sensors)
        if is_safe:
            told = "; ".join(filter(None, (told, let_go_text(self.channels.values()))))
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
        self.setter.look(unix_s, boot_s)
        outputs = self.wanted.at(self.loaded, self.channels, unix_s, boot_s, is_held=self.is_held)
        self.setter.must_write |= self.wanted.is_safe and not self._was_safe
        self._was_safe = self.wanted.is_safe
        self.setter.set_all(outputs, unix_s, boot_s, is_held=self.is_held)
        self._sense(unix_s, boot_s)
        self._tell_hold(outputs, boot_s)
        self.device_alarms.check(self.channels, boot_s)
        self._write_journal(unix_s, boot_s)
        # A start must find the table that is played: its copy is tried as often as a state that changes.
        self.memory.has_changed |= not self.tables.is_good_kept
        if self.memory.is_due(boot_s) or self.journal.must_save_state:
            self.journal.must_save_state = False
            self.memory.save(self.channels, boot_s, is_held=self.is_held)
            self.tables.mend_good()
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
        self.clock.try_to_trust(self.memory.state)

    def _notice_hold(self) -> None:
        is_held = self.store.is_held(self.is_held)
        if is_held != self.is_held:
            self.is_held = is_held
            self.journal.event(Event.HOLD if is_held else Event.RELEASE)
            self.setter.must_write = True
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

    # ---- what others are told

    def _write_journal(self, unix_s: int, boot_s: float) -> None:
        self.journal.write(unix_s, boot_s, self.clock.offset_s, is_trusted=self.clock.is_trusted)

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
