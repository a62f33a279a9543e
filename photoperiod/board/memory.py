"""What a player remembers across restarts, and when it writes that down.

A start asks the state file for what a device can't tell: the topics of a broker. So that file must never say
of a topic that it is lit when it went dark. Where a topic goes down, the file says so first: a player that is
killed in between takes the lamp for darker than it is, and it rises softly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.clock_trust import ClockWatch, same_boot, time_to_keep
from photoperiod.board.state_store import RememberedOutput, State, StateStore
from photoperiod.board.system import System
from photoperiod.player.reference import Output

#: Outputs that were set so recently still put out the same, if the machine has run on since. [s]
RECENT_S = 300.0

#: How often the state is saved if outputs have changed, and if they have not. [s]
SAVE_S, SAVE_IDLE_S = 60.0, 600.0


class Memory:
    """The state of a player, in its folder.

    Parameters
    ----------
    store : StateStore
        Its folder.
    system, clock : System, ClockWatch
        The machine, and whether its clock is trusted.
    alarms : Alarms
        Where a folder that can't be written is reported.
    """

    def __init__(
        self, store: StateStore, system: System, clock: ClockWatch, alarms: Alarms
    ) -> None:
        self.store, self.system, self.clock, self.alarms = store, system, clock, alarms
        self.state: State | None = None
        self.has_changed = True
        self._saved_boot_s = system.boot_s()
        self._written: Mapping[str, RememberedOutput] = {}

    def begin(self) -> Mapping[str, RememberedOutput]:
        """Read the state, and return the outputs that were set so recently that they still hold."""
        state, now_s = self.store.read_state(), self.system.boot_s()
        self.state = state
        self._saved_boot_s = now_s
        if state is None or not same_boot(state, self.system) or now_s - state.boot_s > RECENT_S:
            return {}
        self._written = state.outputs
        return state.outputs

    def is_due(self, boot_s: float) -> bool:
        """Return True if it is time to save."""
        since_s = boot_s - self._saved_boot_s
        return since_s >= SAVE_IDLE_S or (self.has_changed and since_s >= SAVE_S)

    def says_more(self, channel: ChannelOutput, wanted: Output) -> bool:
        """Return True if a start would take the topics of a channel for brighter than they will be."""
        written = self._written.get(channel.id)
        if written is None or not channel.is_remote:
            return False
        before = Output(channel.count_of(written.code), written.code, written.relay)
        return channel.falls_far(before, wanted)

    def save(
        self,
        channels: Mapping[str, ChannelOutput],
        boot_s: float,
        *,
        is_held: bool,
        coming: Mapping[str, Output] | None = None,
    ) -> None:
        """Write down what the outputs hold; a folder that can't be written is an alarm.

        Parameters
        ----------
        channels : mapping of id to ChannelOutput
            All channels.
        boot_s : float
            Now. [s since the machine started]
        is_held : bool
            Whether a person holds the lamps.
        coming : mapping of id to Output, or None
            What channels are given next, in the place of what they hold.
        """
        held = {id: channel.least for id, channel in channels.items()} | dict(coming or {})
        outputs = {
            id: RememberedOutput(output.code, output.relay)
            for id, output in held.items()
            if output is not None
        }
        if coming is None:
            self._saved_boot_s, self.has_changed = boot_s, False
        before = self.state
        if not self.clock.is_trusted and before is not None and before.is_trusted:
            # A wrong time must not replace the last right one. The outputs have gone dark since.
            self.state = replace(before, outputs={})
        else:
            self.state = State(
                boot_id=self.system.boot_id,
                boot_s=boot_s,
                unix_s=time_to_keep(before, self.system, boot_s),
                is_trusted=self.clock.is_trusted,
                outputs=outputs,
            )
        self._write(self.state, is_held)

    def _write(self, state: State, is_held: bool) -> None:
        fault: OSError | None = None
        try:
            self.store.mend(is_held)
        except OSError as error:
            fault = error
        try:  # also in a folder that can't be mended: the state has a second place
            fault = self.store.write_state(state) or fault
            self._written = state.outputs
        except OSError as error:
            fault = error
        if fault is not None:
            self.alarms.state_folder(fault)
        else:
            self.alarms.clear(AlarmKey.STATE)
