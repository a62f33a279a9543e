"""The log that ``photoperiod compare`` reads: CSV, one file for each date (UTC).

A full disk, or a power failure in the middle of a record, costs records and nothing else.
"""

from __future__ import annotations

import csv
import io
import os
from collections import deque
from collections.abc import Sequence
from pathlib import Path

from photoperiod.board.events import Event
from photoperiod.errors import os_reason
from photoperiod.player.outputs import OutputState
from photoperiod.text import plain_number, utc_text

COLUMNS = (
    "time",
    "channel",
    "count",
    "converter_code",
    "volts",
    "level_percent",
    "light_percent",
    "relay",
    "event",
)

LINE_END = b"\r\n"
HEADER = ",".join(COLUMNS).encode() + LINE_END

#: Shortest time between two syncs to disk: each wears a memory card. [s]
SYNC_EVERY_S = 60

#: Pause after a failure, before the next attempt. [s]
RETRY_S = 10

#: Events that could not be written are kept, up to so many.
MAX_KEPT = 500

#: A record that was cut off is no longer than this. [bytes]
MAX_TORN_BYTES = 4096

Record = tuple[str, ...]


def record(unix_s: int, channel: str, state: OutputState, *, has_relay: bool) -> Record:
    """Return the record of what a channel is set to."""
    return (
        utc_text(unix_s),
        channel,
        str(state.count),
        str(state.code),
        plain_number(round(state.volts, 4)),
        plain_number(round(state.level_percent, 4)),
        plain_number(round(100 * state.light, 4)),
        ("on" if state.relay else "off") if has_relay else "",
        "",
    )


def event_record(unix_s: int, event: Event) -> Record:
    """Return the record of an event; its channel is empty."""
    return (utc_text(unix_s), *[""] * 7, event)


class RunLog:
    """The files. No method raises: `fault` says why the log cannot be written at the moment."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.fault: str | None = None
        self._file: int | None = None
        self._date = ""
        self._synced_s = 0.0
        self._is_dirty = False
        self._retry_s = 0.0
        self._kept: deque[Record] = deque(maxlen=MAX_KEPT)

    def write(self, unix_s: int, boot_s: float, records: Sequence[Record]) -> None:
        """Append the records of one moment; if that fails, keep their events for later."""
        if self.fault is not None and boot_s < self._retry_s:
            self._keep(records)
            return
        pending = [*self._kept, *records]
        if not pending:
            return
        try:
            self._open(utc_text(unix_s)[:10])
            self._append(_csv(pending))
        except OSError as error:
            self._close_file()
            self.fault = os_reason(error)
            self._retry_s = boot_s + RETRY_S
            self._keep(records)
            return
        self._kept.clear()
        self.fault = None
        self.sync(boot_s)

    def _keep(self, records: Sequence[Record]) -> None:
        self._kept.extend(one for one in records if one[-1])

    def sync(self, boot_s: float, *, now: bool = False) -> None:
        """Sync what was appended to disk, if the last sync was a minute ago or more."""
        if self._file is None or not self._is_dirty:
            return
        if not now and boot_s - self._synced_s < SYNC_EVERY_S:
            return
        self._synced_s = boot_s
        try:
            os.fsync(self._file)
            self._is_dirty = False
        except OSError as error:
            self.fault = os_reason(error)

    def close(self, boot_s: float) -> None:
        """Write everything to disk and close the file."""
        self.sync(boot_s, now=True)
        self._close_file()

    def _close_file(self) -> None:
        if self._file is not None:
            file, self._file = self._file, None
            self._date = ""
            try:
                os.close(file)
            except OSError as error:  # a network disk reports some faults only here
                self.fault = os_reason(error)

    def _open(self, date: str) -> None:
        """Open the file of a date: write its header if it is new, cut off a torn last record."""
        if self._file is not None and date == self._date:
            return
        self._close_file()
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self.folder / f"run-{date}.csv"
        self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o644)
        self._date = date
        self._cut_torn_record()
        if os.fstat(self._file).st_size == 0:
            self._append(HEADER)

    def _cut_torn_record(self) -> None:
        """Remove a last record that is not whole: half a number reads like a number."""
        assert self._file is not None
        size = os.fstat(self._file).st_size
        start = max(size - MAX_TORN_BYTES, 0)
        tail = os.pread(self._file, size - start, start)
        if not tail or tail.endswith(LINE_END):
            return
        whole = tail.rfind(LINE_END)
        if whole >= 0:
            os.ftruncate(self._file, start + whole + len(LINE_END))
        elif start == 0 and (HEADER.startswith(tail) or not tail.strip(b"\0")):
            os.ftruncate(self._file, 0)
        else:  # not our log: cut nothing
            self._append(LINE_END)

    def _append(self, text: bytes) -> None:
        """Append all of a text or nothing of it."""
        assert self._file is not None
        size = os.fstat(self._file).st_size
        try:
            done = os.write(self._file, text)
            while done < len(text):  # a disk that becomes full takes a part, and then raises
                done += os.write(self._file, text[done:])
        except OSError:
            os.ftruncate(self._file, size)
            raise
        self._is_dirty = True


def _csv(records: Sequence[Record]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(records)
    return text.getvalue().encode()
