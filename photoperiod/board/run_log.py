"""The log that ``photoperiod compare`` reads: CSV, one file for each date (UTC).

A full disk, or a power failure in the middle of a record, costs records and nothing else.
"""

from __future__ import annotations

import contextlib
import csv
import io
from collections import deque
from collections.abc import Sequence
from pathlib import Path

from photoperiod.board.disk import LINE_END, Disk
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

HEADER = ",".join(COLUMNS).encode() + LINE_END

#: Shortest time between two syncs to disk: each wears a memory card. [s]
SYNC_EVERY_S = 60

#: Pause after a failure, before the next attempt. [s]
RETRY_S = 10

#: Events that could not be written are kept, up to so many.
MAX_KEPT = 500

#: A player that starts looks at so many of its newest files: a clock that was ahead may have left newer ones.
MENDED = 3

#: What sensors said, in files of their own.
SENSED_COLUMNS = ("time", "channel", "sensor", "raw", "says", "difference")

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
    """The files. No method raises: `fault` says why the log cannot be written at the moment.

    A file is opened by its name for each record: one that somebody moves away is begun anew.

    Parameters
    ----------
    folder : Path
        Where the files are.
    disk : Disk
        What writes them.
    name : str
        How their names begin.
    columns : sequence of str
        What their records hold.
    """

    def __init__(
        self, folder: Path, disk: Disk, name: str = "run", columns: Sequence[str] = COLUMNS
    ) -> None:
        self.folder, self.disk, self.name = folder, disk, name
        self._head = _csv([tuple(columns)])
        self.fault: str | None = None
        self._path: Path | None = None
        self._synced_s = 0.0
        self._is_dirty = False
        self._retry_s = 0.0
        self._kept: deque[Record] = deque(maxlen=MAX_KEPT)

    def mend(self) -> None:
        """Remove what a power failure has left of a last line, also if it is another date by now."""
        with contextlib.suppress(OSError):  # whoever writes next says so
            for name in [n for n in self.disk.names(self.folder) if self._is_ours(n)][-MENDED:]:
                self.disk.append(self.folder / name, b"", self._head)

    def _is_ours(self, name: str) -> bool:
        return name.startswith(f"{self.name}-") and name.endswith(".csv")

    def write(self, unix_s: int, boot_s: float, records: Sequence[Record]) -> None:
        """Append the records of one moment; if that fails, keep their events for later."""
        if self.fault is not None and boot_s < self._retry_s:
            self._keep(records)
            return
        pending = [*self._kept, *records]
        if not pending:
            return
        path = self.folder / f"{self.name}-{utc_text(unix_s)[:10]}.csv"
        try:
            if self._path != path:
                self.sync(boot_s, now=True)
            self.disk.append(path, _csv(pending), self._head)
        except OSError as error:
            self.fault = os_reason(error)
            self._retry_s = boot_s + RETRY_S
            self._keep(records)
            return
        self._path, self._is_dirty = path, True
        self._kept.clear()
        self.fault = None
        self.sync(boot_s)

    def _keep(self, records: Sequence[Record]) -> None:
        self._kept.extend(one for one in records if one[-1])

    def sync(self, boot_s: float, *, now: bool = False) -> None:
        """Sync what was appended to disk, if the last sync was a minute ago or more."""
        if self._path is None or not self._is_dirty:
            return
        if not now and boot_s - self._synced_s < SYNC_EVERY_S:
            return
        self._synced_s = boot_s
        try:
            self.disk.sync(self._path)
            self._is_dirty = False
        except OSError as error:
            self.fault = os_reason(error)


def _csv(records: Sequence[Record]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(records)
    return text.getvalue().encode()
