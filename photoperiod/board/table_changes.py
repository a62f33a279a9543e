"""Which table a player plays: newer ones are taken whole, or refused while the last good one goes on."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.config import BoardConfig
from photoperiod.board.converter_change import check_converters
from photoperiod.board.devices.base import DeviceMismatch
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.state_store import StateStore
from photoperiod.board.table_file import LoadedTable, TableFile, keep_good_table, table_from_bytes
from photoperiod.errors import OutsideWorldError, os_reason


class TableChanges:
    """The table that is played, and those that are offered in its place.

    Parameters
    ----------
    config : BoardConfig
        The board.
    file : TableFile
        Where newer tables come from.
    store : StateStore
        Where the copy of the last good table is kept.
    alarms, journal : Alarms, Journal
        Where a refusal is reported.
    say : callable
        Shows people one line of text.
    loaded : LoadedTable
        The table to begin with.
    channels : mapping of id to ChannelOutput
        The devices of each channel, in the order of the table.
    """

    def __init__(
        self,
        config: BoardConfig,
        file: TableFile,
        store: StateStore,
        alarms: Alarms,
        journal: Journal,
        say: Callable[[str], None],
        loaded: LoadedTable,
        channels: Mapping[str, ChannelOutput],
    ) -> None:
        self.config, self.file, self.store = config, file, store
        self.alarms, self.journal, self.say = alarms, journal, say
        self.loaded, self.channels = loaded, channels
        self.must_reload = False
        self.is_good_kept = False
        self._unwritten: bytes | None = None

    def notice_offered(self, raw: bytes | None) -> None:
        """Replace the file by a table that a broker sent, if it can be played.

        While the disk refuses it, it is tried again at each step.
        """
        raw, self._unwritten = raw or self._unwritten, None
        if not raw:
            return
        try:
            loaded = self.loaded
            if raw != self.loaded.raw:
                broker = self.config.broker
                where = f" on {broker.table_topic}" if broker is not None else ""
                called = f"the table that was handed out{where}"
                loaded = table_from_bytes(called, raw, self.config)
                self._adapt_devices(loaded)
            self.file.write(raw)
        except OutsideWorldError as error:
            self.refuse(error)
        except OSError as error:
            self._adapt_devices(self.loaded)
            self._unwritten = raw
            text = f"can't write '{self.file.path}': {os_reason(error)}"
            if self.alarms.set(AlarmKey.TABLE, text):
                self.journal.event(Event.REFUSED)
        else:
            self._take(loaded)

    def notice_file(self) -> None:
        """Take a newer table from the file, or refuse it and go on with the present one."""
        if not self.must_reload and not self.file.has_changed():
            text = f"'{self.file.path}' is not there; the last good table goes on"
            if not self.file.is_there() and self.alarms.set(AlarmKey.TABLE, text):
                self.journal.event(Event.REFUSED)
            return
        self.must_reload = False
        try:
            loaded = self.file.load(self.config)
            self._adapt_devices(loaded)
        except OutsideWorldError as error:
            self.refuse(error)
            return
        self._take(loaded)

    def refuse(self, error: OutsideWorldError) -> None:
        """Say why a table is not played."""
        self.alarms.set(AlarmKey.TABLE, f"{error.code}: {error}; the last good table goes on")
        self.journal.event(Event.REFUSED)

    def mend_good(self) -> None:
        """Keep the copy again if it could not be written, or has vanished, as with its folder."""
        try:
            is_lost = self.store.disk.look(self.store.good_table) is None
        except OSError:
            return  # whoever saves the state says so
        if is_lost or not self.is_good_kept:
            self.keep_good()

    def keep_good(self) -> None:
        """Keep a copy of the present table for the next start; `is_good_kept` says whether there is one."""
        try:
            keep_good_table(self.store, self.loaded)
        except OSError as error:
            self.is_good_kept = False
            text = f"the copy of the table that is played can't be written: {os_reason(error)}"
            self.alarms.set(AlarmKey.COPY, text)
        else:
            self.is_good_kept = True
            self.alarms.clear(AlarmKey.COPY)

    def _take(self, loaded: LoadedTable) -> None:
        """Play a table from now on; the devices have been adapted to it."""
        self.alarms.clear(AlarmKey.TABLE)
        if loaded.raw == self.loaded.raw:
            return
        self.loaded = loaded
        for id, path in loaded.table.paths.items():
            self.channels[id].adopt(path)
        self.channels = {id: self.channels[id] for id in loaded.table.channels}
        for channel in self.channels.values():
            channel.leap()
        self.journal.event(Event.RELOAD)
        self.say(f"plays the new table in '{self.file.path}'")
        self.keep_good()

    def _adapt_devices(self, loaded: LoadedTable) -> None:
        """Adapt the outputs to the converter of another table, all of them or none."""
        others = loaded.table.paths.keys() - self.channels.keys()
        if others:
            raise OutsideWorldError(
                "PHO506",
                f"the table has other channels ({', '.join(sorted(others))}) than at the start",
            )
        try:
            for id, path in loaded.table.paths.items():
                self.channels[id].output.device.adapt_to(path.converter)
            check_converters(self.config, self.loaded.table, loaded.table)
        except (DeviceMismatch, OutsideWorldError) as error:
            for id, path in self.loaded.table.paths.items():
                self.channels[id].output.device.adapt_to(path.converter)
            if isinstance(error, OutsideWorldError):
                raise
            raise OutsideWorldError("PHO507", str(error)) from error
