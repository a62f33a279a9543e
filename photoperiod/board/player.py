"""The player: at each whole second see what has changed, and put out what the table says.

`photoperiod.player.reference` says what; here is when its clock is trusted, whether a person holds the
lamps, since when a soft start runs, and who is told.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Mapping
from dataclasses import replace

from photoperiod.board.alarms import Alarms
from photoperiod.board.channel_output import Ease, Line
from photoperiod.board.clock_trust import SET_BACK_S as SLACK_S
from photoperiod.board.clock_trust import Evidence, same_boot, was_trusted, why_not
from photoperiod.board.config import Board
from photoperiod.board.mqtt import Broker
from photoperiod.board.outputs import Put
from photoperiod.board.run_log import Record, RunLog, event_record, record
from photoperiod.board.state_store import Remembered, State, StateStore
from photoperiod.board.sysfs import DeviceMismatch
from photoperiod.board.system import World
from photoperiod.board.table_file import Loaded, TableFile, keep_copy, loaded_of
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.image import ChannelImage, Image, day_number
from photoperiod.player.outputs import given
from photoperiod.player.reference import Output, Status, play
from photoperiod.text import utc_text

#: A clock that moves by more against the time since the start has been stepped [s]; one that is
#: steered moves by a two-thousandth at most.
STEP_S = 2.0

#: A level that rises by more than this share of the top at once is a leap. Our choice, no source.
LEAP_SHARE = 0.02

#: A step that comes so late is a leap too: the machine slept, or the process was stopped. [s]
LATE_S = 5.0

#: The longest time between two looks at hold, table and clock. [s]
LONGEST_WAIT_S = 10

#: What outputs were given so recently they still give, if the machine has run on since. [s]
RECENT_S = 300.0

#: The state is written so often if outputs changed, and so often if not. [s]
SAVE_S, SAVE_IDLE_S = 60.0, 600.0

#: A broker that was never there is missed after this, and told all again that long after it came. [s]
BROKER_GRACE_S = 10.0

#: What must not be forgotten if the player is killed within the next minute: lamps that went dark, or
#: a clock that may be trusted.
_SAVED_AT_ONCE = ("safe", "resumed", "hold", "release")

EXIT_INTERRUPTED = 130


class Player:
    """A player on a board.

    Parameters
    ----------
    board : Board
        What is driven.
    file : TableFile
        Where newer tables come from.
    loaded : Loaded
        The table to begin with.
    keep : StateStore
        The player's own folder, locked.
    world : World
        Time and signals.
    lines : mapping of channel to Line
        Its outputs, in the order of the table.
    broker : Broker or None
        Whom to tell.
    say : callable
        Tells people something, in one line.
    refused : OutsideWorldError or None
        Why it begins with the copy of the last good table, if it does.
    """

    def __init__(
        self,
        *,
        board: Board,
        file: TableFile,
        loaded: Loaded,
        keep: StateStore,
        world: World,
        lines: Mapping[str, Line],
        broker: Broker | None,
        say: Callable[[str], None],
        refused: OutsideWorldError | None = None,
    ) -> None:
        self.board, self.file, self.loaded, self.keep = board, file, loaded, keep
        self.world, self.lines, self.broker, self.say = world, lines, broker, say
        self.alarms = Alarms(say)
        self.log = RunLog(board.log_folder)
        self.is_trusted = False
        self.is_held = False
        self._events: list[tuple[float, str]] = []
        self._state: State | None = None
        self._began_s = self._stepped_s = world.boot_s()
        self._offset_s = world.unix_s() - self._began_s
        self._looked_s = self._began_s
        self._saved_s = self._began_s
        self._has_changed = True
        self._must_reload = False
        self._records: list[Record] = []
        self._connections = 0
        self._again_s: float | None = None
        self._told: object = None
        self._refused = refused

    @property
    def image(self) -> Image:
        """What is played."""
        return self.loaded.table.image

    # ---- beginning and end

    def begin(self) -> None:
        """See what the outputs give already, whether the clock can be trusted, and say so.

        Raises
        ------
        DeviceMismatch
            If a device is not what the board file says.
        """
        state = self._state = self.keep.read_state()
        recent = (
            state is not None
            and same_boot(state, self.world)
            and self._began_s - state.boot_s <= RECENT_S
        )
        for id, line in self.lines.items():
            line.begin(state.outputs.get(id) if recent and state is not None else None)
        self._event("start")
        if self._refused is not None:
            self._refuse(self._refused)
        self._keep_copy()
        self.is_held = self.keep.is_held()
        if self.is_held:
            self._event("hold")
            self.say("held: the lamps stay off until `photoperiod release`")
        if was_trusted(state, self.world):
            self.is_trusted = True
        else:
            self._trust(self._evidence(state))
            if not self.is_trusted:
                self._event("safe")

    def run(self) -> int:
        """Play until a signal says stop; return the exit code."""
        while True:
            self.step()
            every_s = min(self.image.every_seconds, LONGEST_WAIT_S)
            got = self.world.wait(every_s - self.world.unix_s() % every_s)
            if got in (signal.SIGTERM, signal.SIGINT):
                self.stop()
                return EXIT_INTERRUPTED if got == signal.SIGINT else 0
            if got == signal.SIGHUP:
                self._must_reload = True

    def stop(self) -> None:
        """Put out the safe state, and leave everything written."""
        boot_s = self.world.boot_s()
        _, outputs = play(self.image, 0, 0, clock_valid=False)
        unix_s = int(self.world.unix_s())
        for line, output in zip(self.lines.values(), outputs, strict=True):
            self._put(line, self._held_open(line, output), unix_s, boot_s)
        self._event("stop")
        self._write_log(unix_s, boot_s)
        self.log.close(boot_s)
        self._save(boot_s)
        self._tell_of_devices()
        if self.broker is not None:
            self.broker.tell_state("stopped", self.alarms.texts)
            self.broker.close()
        self.say("stopped: the safe state is set")

    # ---- one step

    def step(self) -> None:
        """Do what is to be done at this second."""
        boot_s, now = self._times()
        self._notice_clock(now, boot_s)
        self._notice_hold()
        self._notice_offer()
        self._notice_table()
        self._notice_broker(boot_s)
        unix_s = int(now // 1)
        outputs = self._outputs(unix_s, boot_s)
        for line, output in zip(self.lines.values(), outputs, strict=True):
            self._put(line, output, unix_s, boot_s)
        if boot_s - self._looked_s >= min(self.board.log_every_s, 60):
            self._looked_s = boot_s
            for line in self.lines.values():
                line.look(boot_s)
        self._tell_of_devices()
        self._write_log(unix_s, boot_s)
        since_s = boot_s - self._saved_s
        if since_s >= SAVE_IDLE_S or (self._has_changed and since_s >= SAVE_S):
            self._save(boot_s)
        self._tell_broker()
        self._stepped_s = boot_s

    def _times(self) -> tuple[float, float]:
        """Return the time since the start and that of the clock, at one moment.

        A busy machine may stop this process between two questions, which would look like a step.
        """
        while True:
            before, now, after = self.world.boot_s(), self.world.unix_s(), self.world.boot_s()
            if after - before < STEP_S / 4:
                return after, now

    def _notice_clock(self, now: float, boot_s: float) -> None:
        """Notice that the clock was stepped, or may be trusted now, or that the machine slept."""
        offset_s = now - boot_s
        moved_s, self._offset_s = offset_s - self._offset_s, offset_s
        if abs(moved_s) > STEP_S:
            self.say(f"the clock was stepped by {moved_s:+.1f} s, to {utc_text(int(now))}")
            self._event("clock-step")
            self._leap()
            if self.is_trusted:
                self._trust(self._evidence(None), slack_s=SLACK_S)
                if not self.is_trusted:
                    self._event("safe")
        if boot_s - self._stepped_s > LATE_S + min(self.image.every_seconds, LONGEST_WAIT_S):
            self.say(f"this step comes {boot_s - self._stepped_s:.0f} s after the last")
            self._leap()
        if not self.is_trusted:
            self._trust(self._evidence(self._state))
            if self.is_trusted:
                self._event("resumed")

    def _evidence(self, state: State | None) -> list[Evidence]:
        found = []
        written = self.file.mtime_s
        if written is not None:
            found.append(Evidence(written, f"'{self.file.path}' was written"))
        if state is not None and state.is_trusted:
            found.append(Evidence(state.unix_s, "the last moment in the state file"))
        return found

    def _trust(self, evidence: list[Evidence], slack_s: float = 0.0) -> None:
        if slack_s:  # it was trusted, and moved: whether it is synchronised is not asked again
            why = why_not("later", self.world, evidence, slack_s=slack_s)
        else:
            why = why_not(self.board.trust, self.world, evidence)
        self.is_trusted = not why
        if why:
            self.alarms.set("clock", f"safe state: the clock can't be trusted: {why}")
        else:
            self.alarms.clear("clock")

    def _notice_hold(self) -> None:
        held = self.keep.is_held(self.is_held)
        if held != self.is_held:
            self.is_held = held
            self._event("hold" if held else "release")
            self.say("held: the lamps are off" if held else "released")

    def _notice_offer(self) -> None:
        """Put a table that was handed out in the place of the file, if it can be played."""
        raw = None if self.broker is None else self.broker.take_offered()
        if not raw:
            return
        try:
            loaded = self.loaded
            if raw != self.loaded.raw:
                loaded = loaded_of("the table that was handed out", raw, self.board)
                self._fit(loaded)
            self.file.write(raw)
        except OutsideWorldError as error:
            self._refuse(error)
        except OSError as error:
            self._fit(self.loaded)
            reason = os_reason(error)
            self.alarms.set("table", f"can't write '{self.file.path}': {reason}")
            self._event("refused")
        else:
            self._take(loaded)

    def _notice_table(self) -> None:
        """Take a newer table, or refuse it and go on."""
        if not self._must_reload and not self.file.has_changed():
            if not self.file.is_there() and self.alarms.set(
                "table", f"'{self.file.path}' is not there; the last good table goes on"
            ):
                self._event("refused")
            return
        self._must_reload = False
        try:
            loaded = self.file.load(self.board)
            self._fit(loaded)
        except OutsideWorldError as error:
            self._refuse(error)
            return
        self._take(loaded)

    def _take(self, loaded: Loaded) -> None:
        """Play a table from now on; its converter was taken by the outputs."""
        self.alarms.clear("table")
        if loaded.raw == self.loaded.raw:
            return
        self.loaded = loaded
        for id, path in loaded.table.paths.items():
            self.lines[id].adopt(path)
        self.lines = {id: self.lines[id] for id in loaded.table.channels}
        self._leap()
        self._event("reload")
        self.say(f"plays the new table in '{self.file.path}'")
        self._keep_copy()

    def _fit(self, loaded: Loaded) -> None:
        """Have the outputs take the converter of another table, all of them or none."""
        try:
            for id, path in loaded.table.paths.items():
                self.lines[id].output.device.fit(path.converter)
        except DeviceMismatch as error:
            for id, path in self.loaded.table.paths.items():
                self.lines[id].output.device.fit(path.converter)
            raise OutsideWorldError("PHO507", str(error)) from error

    def _refuse(self, error: OutsideWorldError) -> None:
        self.alarms.set("table", f"{error.code}: {error}; the last good table goes on")
        self._event("refused")

    def _keep_copy(self) -> None:
        try:
            keep_copy(self.keep, self.loaded)
        except OSError as error:
            self._state_fault(error)

    def _notice_broker(self, boot_s: float) -> None:
        broker = self.broker
        if broker is None:
            return
        if not broker.is_connected:
            late = boot_s - self._began_s > BROKER_GRACE_S
            missed = self._connections > 0 or late or broker.trouble
            why = f" ({broker.trouble})" if broker.trouble else ""
            if missed and self.alarms.set(
                "broker",
                f"the broker is away{why}; the table goes on, and it is told when it is back",
            ):
                self._event("broker-lost")
            return
        if broker.connections != self._connections:
            self._connections = broker.connections
            self._again_s = boot_s + BROKER_GRACE_S
            self._told = None
            for line in self.lines.values():
                line.say_again()
                if line.output.is_remote:
                    line.ease = line.ease or Ease.LEAP
            if self.alarms.clear("broker"):
                self._event("broker-back")
        elif self._again_s is not None and boot_s >= self._again_s:
            # What was under way when the line broke may have been sent late, after what is newer.
            self._again_s = None
            self._told = None
            for line in self.lines.values():
                line.say_again()

    def _leap(self) -> None:
        for line in self.lines.values():
            line.ease = line.ease or Ease.LEAP

    # ---- what is put out

    def _outputs(self, unix_s: int, boot_s: float) -> list[Output]:
        """Return what every output is given, and notice what that means."""
        date, second = self.loaded.clock.wall_of(unix_s)
        day = day_number(date) if self.image.span is not None else 0
        status, outputs = play(
            self.image, day, second, clock_valid=self.is_trusted, stopped=self.is_held
        )
        found = list(outputs)
        for at, (line, channel) in enumerate(
            zip(self.lines.values(), self.image.channels, strict=True)
        ):
            if Status.SAFE in status:
                line.ease, line.soft_from_s = Ease.START, None
                found[at] = self._held_open(line, found[at])
                continue
            self._begin_soft(line, channel, found[at], boot_s)
            if line.soft_from_s is not None:
                since_s = int(boot_s - line.soft_from_s)
                if since_s >= self.image.soft_start_minutes * 60:
                    line.soft_from_s = None
                else:
                    _, softly = play(self.image, day, second, since_start_s=since_s)
                    found[at] = softly[at]
        self._tell_of_dates(status)
        return found

    def _held_open(self, line: Line, output: Output) -> Output:
        """Return the safe state; while a person holds the lamps also with the relay open."""
        if self.is_held and line.can_open:
            return replace(output, relay=False)
        return output

    def _begin_soft(self, line: Line, channel: ChannelImage, wanted: Output, boot_s: float) -> None:
        """Begin a soft start where a level would jump up, from the level that is given now."""
        why, line.ease = line.ease, None
        whole_s = self.image.soft_start_minutes * 60
        if why is None or whole_s == 0:
            return
        since_s = 0
        if line.present is not None and line.is_lit(line.present):
            leap = max(int(self.image.top_count * LEAP_SHARE), 1)
            if wanted.count <= line.present.count + leap:
                return
            rise = self.image.top_count - channel.soft_count
            above = line.present.count - channel.soft_count
            if above > 0 and rise > 0:
                since_s = -(-above * whole_s // rise)  # the least that allows what is given now
        elif why is Ease.LEAP and not line.is_lit(wanted):
            return  # dark before and after
        line.soft_from_s = boot_s - since_s

    def _put(self, line: Line, output: Output, unix_s: int, boot_s: float) -> None:
        is_due = boot_s - line.logged_s >= self.board.log_every_s - 0.5
        if not is_due and output == line.present and line.is_known:
            return
        told = given(line.path, output.count, output.code, output.relay)
        changed = line.put(output, Put(line.id, utc_text(unix_s), told), boot_s)
        self._has_changed |= changed
        if line.is_known and (changed or is_due):
            line.logged_s = boot_s
            has_relay = self.image.relay != "none" or not output.relay
            self._records.append(record(unix_s, line.id, told, has_relay=has_relay))

    # ---- who is told

    def _event(self, word: str) -> None:
        self._events.append((self.world.boot_s(), word))
        del self._events[:-500]
        if word in _SAVED_AT_ONCE:
            self._saved_s = -SAVE_IDLE_S

    def _tell_of_dates(self, status: Status) -> None:
        if Status.SAFE in status:
            return
        for flag, key, text in (
            (Status.EXPIRED, "expired", "the table is past its last date; the last one goes on"),
            (Status.EARLY, "early", "the table has not begun yet; its first one is played"),
        ):
            if flag not in status:
                self.alarms.clear(key)
            elif self.alarms.set(key, text):
                self._event(key)

    def _tell_of_devices(self) -> None:
        for id, line in self.lines.items():
            for name, part in line.parts:
                key = f"{name} of '{id}'"
                if part.fault:
                    if self.alarms.set(
                        key, f"PHO507: the {key} ({part.device.name}) is lost: {part.fault}"
                    ):
                        self._event("device-lost")
                elif self.alarms.clear(key):
                    self._event("device-back")

    def _write_log(self, unix_s: int, boot_s: float) -> None:
        """Write records and events; those of a clock that is not trusted yet wait until it is."""
        records, self._records = self._records, []
        if not self.is_trusted:
            return
        events = [
            event_record(int(since_s + self._offset_s), word) for since_s, word in self._events
        ]
        self._events.clear()
        if not records and not events and self.log.fault is None:
            self.log.sync(boot_s)
        else:
            self.log.write(unix_s, boot_s, [*events, *records])
        if self.log.fault is not None:
            if self.alarms.set("log", f"the log can't be written: {self.log.fault}"):
                self._event("log-lost")
        elif self.alarms.clear("log"):
            self._event("log-back")

    def _save(self, boot_s: float) -> None:
        self._saved_s, self._has_changed = boot_s, False
        outputs = {
            id: Remembered(line.present.code, line.present.relay)
            for id, line in self.lines.items()
            if line.present is not None
        }
        unix_s, before = self.world.unix_s(), self._state
        if not self.is_trusted and before is not None and before.is_trusted:
            # a wrong time must not take the place of the last right one; outputs have gone dark since
            self._state = replace(before, outputs={})
        else:
            self._state = State(
                boot_id=self.world.boot_id,
                boot_s=boot_s,
                unix_s=unix_s,
                is_trusted=self.is_trusted,
                outputs=outputs,
            )
        try:
            self.keep.write_state(self._state)
        except OSError as error:
            self._state_fault(error)
        else:
            self.alarms.clear("state")

    def _state_fault(self, error: OSError) -> None:
        reason = os_reason(error)
        self.alarms.set("state", f"the state folder can't be written: {reason}")

    def _tell_broker(self) -> None:
        if self.broker is None or not self.broker.is_connected:
            return
        state = "held" if self.is_held else "running" if self.is_trusted else "safe"
        told = (state, self.alarms.version)
        if told != self._told:
            self._told = told
            self.broker.tell_state(state, self.alarms.texts)
