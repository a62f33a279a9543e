"""The record of what was put out, as ``photoperiod compare`` reads it: CSV, one file a date (UTC).

A disk that is full, or a power failure in the middle of a record, costs records and nothing else.
"""

from __future__ import annotations

import csv
import io
import os
from collections import deque
from collections.abc import Sequence
from pathlib import Path

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

#: At most this often the disk is made to write, which wears cards. [s]
SYNC_EVERY_S = 60

#: After a failure, that long until the next attempt. [s]
RETRY_S = 10

#: Events that could not be written are kept, so many.
MOST_KEPT = 500

#: A torn record is no longer than this. [bytes]
MOST_TORN = 4096

Record = tuple[str, ...]


def record(unix_s: int, channel: str, given: OutputState, *, has_relay: bool) -> Record:
    """Return the record of what a channel is given."""
    return (
        utc_text(unix_s),
        channel,
        str(given.count),
        str(given.code),
        plain_number(round(given.volts, 4)),
        plain_number(round(given.level_percent, 4)),
        plain_number(round(100 * given.light, 4)),
        ("on" if given.relay else "off") if has_relay else "",
        "",
    )


def event_record(unix_s: int, event: str) -> Record:
    """Return the record of an event; it has no channel."""
    return (utc_text(unix_s), *[""] * 7, event)


class RunLog:
    """The files. Nothing raises: `fault` says what is wrong at the moment."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.fault: str | None = None
        self._file: int | None = None
        self._date = ""
        self._synced_s = 0.0
        self._is_dirty = False
        self._retry_s = 0.0
        self._kept: deque[Record] = deque(maxlen=MOST_KEPT)

    def write(self, unix_s: int, boot_s: float, records: Sequence[Record]) -> None:
        """Append records of one moment, or keep their events for later if that fails."""
        if self.fault is not None and boot_s < self._retry_s:
            self._keep(records)
            return
        todo = [*self._kept, *records]
        if not todo:
            return
        try:
            self._open(utc_text(unix_s)[:10])
            self._append(_csv(todo))
        except OSError as error:
            self._let_go()
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
        """Have the disk write what was appended, if it has not done so for a minute."""
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
        """Write everything to disk and let go."""
        self.sync(boot_s, now=True)
        self._let_go()

    def _let_go(self) -> None:
        if self._file is not None:
            file, self._file = self._file, None
            self._date = ""
            try:
                os.close(file)
            except OSError as error:  # what a network disk tells only now
                self.fault = os_reason(error)

    def _open(self, date: str) -> None:
        """Open the file of a date, with its header, at the end of its last whole record."""
        if self._file is not None and date == self._date:
            return
        self._let_go()
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self.folder / f"run-{date}.csv"
        self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o644)
        self._date = date
        self._cut_torn_record()
        if os.fstat(self._file).st_size == 0:
            self._append(HEADER)

    def _cut_torn_record(self) -> None:
        """Take off a last record that was cut off: half a number reads like a number."""
        assert self._file is not None
        size = os.fstat(self._file).st_size
        start = max(size - MOST_TORN, 0)
        tail = os.pread(self._file, size - start, start)
        if not tail or tail.endswith(LINE_END):
            return
        whole = tail.rfind(LINE_END)
        if whole >= 0:
            os.ftruncate(self._file, start + whole + len(LINE_END))
        elif start == 0 and (HEADER.startswith(tail) or not tail.strip(b"\0")):
            os.ftruncate(self._file, 0)
        else:  # no log of ours; its end is not ours to cut
            self._append(LINE_END)

    def _append(self, text: bytes) -> None:
        """Append all of some text or nothing."""
        assert self._file is not None
        size = os.fstat(self._file).st_size
        try:
            done = os.write(self._file, text)
            while done < len(text):  # a disk that gets full takes a part, and then says why
                done += os.write(self._file, text[done:])
        except OSError:
            os.ftruncate(self._file, size)
            raise
        self._is_dirty = True


def _csv(records: Sequence[Record]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(records)
    return text.getvalue().encode()
