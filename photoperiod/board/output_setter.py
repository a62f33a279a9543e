"""Sets the outputs of all channels, and records what their devices hold."""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.devices.base import Setting
from photoperiod.board.journal import Journal
from photoperiod.board.memory import Memory
from photoperiod.board.run_log import record
from photoperiod.board.table_changes import TableChanges
from photoperiod.drive.grid import RelayKind
from photoperiod.player.outputs import output_state
from photoperiod.player.reference import Output
from photoperiod.text import utc_text


class OutputSetter:
    """Gives each channel its output.

    Parameters
    ----------
    tables : TableChanges
        The table that is played, and its channels.
    memory : Memory
        What a start is told of topics: it must know of one that goes dark before it does.
    journal : Journal
        Where records go.
    log_every_s : int
        Each channel gets a record at least this often. [s]
    """

    def __init__(
        self, tables: TableChanges, memory: Memory, journal: Journal, log_every_s: int
    ) -> None:
        self._tables, self._memory, self._journal = tables, memory, journal
        self._log_every_s = log_every_s
        self.must_write = True

    def look(self, unix_s: int, boot_s: float) -> None:
        """Read the devices back, and log what they hold if it is not what they were given."""
        for channel in self._tables.channels.values():
            if channel.look(boot_s):
                self._log(channel, unix_s)

    def set_all(
        self, outputs: Sequence[Output], unix_s: int, boot_s: float, *, is_held: bool
    ) -> None:
        """Set every channel; all are written if ``must_write`` says so, whatever they were given before.

        The devices of this board come first: they need no word in the state, and no disk that hangs keeps a
        lamp lit.
        """
        again, self.must_write = self.must_write, False
        channels = self._tables.channels
        both = list(zip(channels.values(), outputs, strict=True))
        for channel, output in both:
            if not channel.is_remote:
                self._set(channel, output, unix_s, boot_s, again=again)
        remote = [(channel, output) for channel, output in both if channel.is_remote]
        falling = {one.id: output for one, output in remote if self._memory.says_more(one, output)}
        if falling:
            self._memory.save(channels, boot_s, is_held=is_held, coming=falling)
        for channel, output in remote:
            self._set(channel, output, unix_s, boot_s, again=again)

    def _set(
        self, channel: ChannelOutput, output: Output, unix_s: int, boot_s: float, *, again: bool
    ) -> None:
        is_due = boot_s - channel.logged_boot_s >= self._log_every_s - 0.5
        is_there = output == channel.present and channel.is_known
        if is_there and not (is_due or again or channel.repeats):
            return
        state = output_state(channel.path, output.count, output.code, output.relay)
        setting = Setting(channel.id, utc_text(unix_s), state)
        has_changed = channel.set(output, setting, boot_s, again=again)
        self._memory.has_changed |= has_changed
        if (has_changed or is_due) and self._log(channel, unix_s):
            channel.logged_boot_s = boot_s

    def _log(self, channel: ChannelOutput, unix_s: int) -> bool:
        """Log what the devices of a channel hold, if that is known."""
        held = channel.present
        if held is None or not channel.is_told:
            return False
        state = output_state(channel.path, held.count, held.code, held.relay)
        has_relay = self._tables.loaded.table.image.relay != RelayKind.NONE or not held.relay
        self._journal.record(record(unix_s, channel.id, state, has_relay=has_relay))
        return True
