"""What those who watch a board get: a file of metrics, and a command that is run for each alarm."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path

from photoperiod.board.alarm_hook import AlarmHook
from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.disk import Disk
from photoperiod.board.events import PlayerState
from photoperiod.board.metrics import EVERY_S, ChannelMetrics, Snapshot, render
from photoperiod.board.table_file import LoadedTable
from photoperiod.errors import os_reason
from photoperiod.formats.image import date_of


class Watching:
    """Tells those who watch.

    Parameters
    ----------
    metrics_file : Path or None
        Where the metrics go; None if nobody reads them.
    hook : AlarmHook or None
        What is run for each alarm.
    alarms, disk : Alarms, Disk
        Where a file that cannot be written is reported, and what writes it.
    """

    def __init__(
        self, metrics_file: Path | None, hook: AlarmHook | None, alarms: Alarms, disk: Disk
    ) -> None:
        self._file, self._hook = metrics_file, hook
        self._alarms, self._disk = alarms, disk
        self._written_boot_s: float | None = None
        if hook is not None:
            alarms.tell = hook.tell

    def step(self, boot_s: float, snapshot: Callable[[], Snapshot], *, now: bool = False) -> None:
        """Write the metrics if it is time, or now, and see to the command."""
        is_due = self._written_boot_s is None or boot_s - self._written_boot_s >= EVERY_S
        if self._file is not None and (is_due or now):
            self._written_boot_s = boot_s
            self._write(self._file, snapshot())
        if self._hook is not None:
            self._hook.poll(boot_s)

    def _write(self, file: Path, snapshot: Snapshot) -> None:
        try:
            self._disk.replace(file, render(snapshot))
        except OSError as error:
            self._alarms.set(AlarmKey.METRICS, f"can't write '{file}': {os_reason(error)}")
        else:
            self._alarms.clear(AlarmKey.METRICS)


def snapshot_of(
    loaded: LoadedTable,
    channels: Mapping[str, ChannelOutput],
    alarms: Alarms,
    *,
    state: PlayerState,
    is_trusted: bool,
    unix_s: float,
    steps: int,
) -> Snapshot:
    """Return what a player knows at a moment; see `Snapshot`."""
    span = loaded.table.image.span
    end_s = None
    if span is not None:
        next_day = date_of(span[1]) + dt.timedelta(days=1)
        end_s = dt.datetime.combine(next_day, dt.time(), dt.UTC).timestamp()
    return Snapshot(
        state=state,
        is_trusted=is_trusted,
        unix_s=unix_s,
        channels={id: _metrics_of(channel) for id, channel in channels.items()},
        alarms=alarms.keys,
        raised=alarms.raised,
        steps=steps,
        last_day_unix_s=end_s,
    )


def _metrics_of(channel: ChannelOutput) -> ChannelMetrics | None:
    held = channel.present
    if held is None or not channel.is_told:
        return None
    volts = float(channel.path.volts[held.count])
    return ChannelMetrics(channel.light_of(held), volts, held.relay)
