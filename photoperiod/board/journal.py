"""What the player writes down: events and settings wait here until the clock can be trusted."""

from __future__ import annotations

from pathlib import Path

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.disk import Disk
from photoperiod.board.events import SAVED_AT_ONCE, Event
from photoperiod.board.run_log import SENSED_COLUMNS, Record, RunLog, event_record
from photoperiod.board.system import System

#: More events than this are not kept while the clock is not trusted; the oldest are dropped.
MAX_EVENTS = 500


class Journal:
    """Events and records on their way to the log.

    Parameters
    ----------
    folder : Path
        The folder of the log files.
    system : System
        Gives the time of an event.
    alarms : Alarms
        Where a log that cannot be written is reported.
    disk : Disk
        What writes the files.
    """

    def __init__(self, folder: Path, system: System, alarms: Alarms, disk: Disk) -> None:
        self.system, self.alarms = system, alarms
        self.log = RunLog(folder, disk)
        self.sense_log = RunLog(folder, disk, "sensed", SENSED_COLUMNS)
        self.must_save_state = False
        self._events: list[tuple[float, Event]] = []
        self._records: list[Record] = []
        self._sensed: list[Record] = []

    def begin(self) -> None:
        """Mend what a power failure has torn."""
        self.log.mend()
        self.sense_log.mend()

    def event(self, event: Event) -> None:
        """Note an event that happens now."""
        self._events.append((self.system.boot_s(), event))
        del self._events[:-MAX_EVENTS]
        self.must_save_state |= event in SAVED_AT_ONCE

    def record(self, record: Record) -> None:
        """Note what a channel was set to."""
        self._records.append(record)

    def sensed(self, record: Record) -> None:
        """Note what a sensor said."""
        self._sensed.append(record)

    def write(self, unix_s: int, boot_s: float, offset_s: float, *, is_trusted: bool) -> None:
        """Write what was noted; while the clock is not trusted, events wait and records are dropped.

        ``offset_s`` is the clock minus the time since the start: events get their time from it, so
        that those from before the clock was set get the right one.
        """
        records, self._records = self._records, []
        sensed, self._sensed = self._sensed, []
        if not is_trusted:
            return
        if sensed:
            self.sense_log.write(unix_s, boot_s, sensed)
        events = [event_record(int(event_s + offset_s), event) for event_s, event in self._events]
        self._events.clear()
        if not records and not events and self.log.fault is None:
            self.log.sync(boot_s)
        else:
            self.log.write(unix_s, boot_s, [*events, *records])
        if self.log.fault is not None:
            text = f"the log can't be written: {self.log.fault}"
            if self.alarms.set(AlarmKey.LOG, text):
                self.event(Event.LOG_LOST)
        elif self.alarms.clear(AlarmKey.LOG):
            self.event(Event.LOG_BACK)
