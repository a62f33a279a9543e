"""When the player trusts the clock of its board.

A board without a battery clock starts in the past: in 1970, on the day its system image was made, or
at the moment of its last shutdown. That last time looks right and is wrong. So "not before what is
known to have happened" is no proof alone: the system must also say that it has set the clock.

A clock that was ahead for a while leaves times that have not happened. They must not keep a
tank dark for good: a time that leapt is not kept as the last one, and a clock that stays synchronised is
believed in the end.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.config import TrustPolicy
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.state_store import State
from photoperiod.board.system import System
from photoperiod.board.table_file import TableFile
from photoperiod.text import utc_text
from photoperiod.units import SECONDS_PER_DAY

#: The clock of a running player may be set back by this much and still be trusted [s]: people correct
#: clocks by hours, and a clock that lost its time is off by more. One that is set ahead by more must be
#: synchronised, if the system can say so. Our choice.
SET_BACK_S = SECONDS_PER_DAY

#: A clock that was trusted earlier in the same run of the machine still is, unless it has since moved
#: by more than this against the time since the start. [s]
SAME_CLOCK_S = 3600

#: A clock that the system has called synchronised for so long, without a step, is right whatever time stands
#: in a file [s]: the file was written while the clock was ahead. Our choice.
SETTLED_S = 600.0

#: A clock that moves by more than this against the time since the start was stepped [s]; a clock that
#: is steered moves by one part in two thousand at most.
STEP_S = 2.0


_OR_WAIT = f"or wait: one that stays synchronised for {SETTLED_S / 60:.0f} minutes is trusted"


@dataclass(frozen=True, slots=True)
class Evidence:
    """Something that has happened, so that the clock cannot be before it. [Unix seconds]

    ``way_out`` says what to do if the time of it is wrong, besides waiting for a clock that settles.
    """

    unix_s: float
    what: str
    way_out: str = ""


def distrust_reason(
    policy: TrustPolicy, system: System, evidence: list[Evidence], *, slack_s: float = 0.0
) -> str:
    """Return why the clock is not trusted; an empty text if it is.

    The text stays the same while nothing changes: an alarm with a new text would be shown again.

    Parameters
    ----------
    policy : TrustPolicy
        ``auto``: the system must say that its clock is synchronised, or a battery clock must have set
        it; nothing is asked if the system cannot say. ``synchronised``: the system must say so.
        ``later``: nothing is asked.
    system : System
        The machine.
    evidence : list of Evidence
        What has happened already.
    slack_s : float
        How far before the evidence the clock may be. [s]
    """
    latest = max(evidence, key=lambda e: e.unix_s, default=None)
    if latest is not None and system.unix_s() < latest.unix_s - slack_s:
        way_out = f"; if that time is wrong, {latest.way_out}, {_OR_WAIT}" if latest.way_out else ""
        return f"it is before {latest.what} ({utc_text(latest.unix_s)}){way_out}"
    if policy is TrustPolicy.LATER:
        return ""
    answer = system.is_synchronised()
    if answer is True:
        return ""
    if policy is TrustPolicy.AUTO and (answer is None or system.has_battery_clock()):
        return ""
    return "the system has not synchronised it since it started"


def was_trusted(state: State | None, system: System) -> bool:
    """Return True if the clock was trusted earlier in this run of the machine and has run on since.

    So a player that is started again does not go dark because the network is away just then.
    """
    if state is None or not state.is_trusted or not same_boot(state, system):
        return False
    return abs(moved_since(state, system)) <= SAME_CLOCK_S


def moved_since(state: State, system: System) -> float:
    """Return by how much the clock was set ahead since a state of the same run of the machine. [s]"""
    return (system.unix_s() - system.boot_s()) - (state.unix_s - state.boot_s)


def time_to_keep(before: State | None, system: System, boot_s: float) -> float:
    """Return what a state says as the last moment. [Unix seconds]

    That is the time of the clock. If it has leapt ahead by more than `SET_BACK_S` since the state before, and
    the system doesn't say that it is synchronised, it is the time of that state and what has passed since:
    a later start, with a clock that is right again, must not find a moment that has not come yet.
    """
    if before is not None and before.is_trusted and same_boot(before, system):
        leaps = moved_since(before, system) > SET_BACK_S
        if leaps and system.is_synchronised() is not True:
            return before.unix_s + boot_s - before.boot_s
    return system.unix_s()


def same_boot(state: State, system: System) -> bool:
    """Return True if a state was written since the machine started."""
    return (
        bool(system.boot_id) and state.boot_id == system.boot_id and state.boot_s <= system.boot_s()
    )


def read_clocks(system: System) -> tuple[float, float]:
    """Return the time since the start and the time of the clock, read at one moment.

    A busy machine may suspend this process between the two readings, which would look like a step of the
    clock.
    """
    while True:
        before_s = system.boot_s()
        now_s = system.unix_s()
        after_s = system.boot_s()
        if after_s - before_s < STEP_S / 4:
            return after_s, now_s


class ClockWatch:
    """Follows the clock of a running player.

    Parameters
    ----------
    policy : TrustPolicy
        What is asked before the clock is trusted.
    system : System
        The machine.
    file : TableFile
        The time at which it was written is evidence.
    alarms : Alarms
        Where a clock that is not trusted is reported.
    journal : Journal
        Where its events go.
    say : callable
        Shows people one line of text.
    """

    def __init__(
        self,
        policy: TrustPolicy,
        system: System,
        file: TableFile,
        alarms: Alarms,
        journal: Journal,
        say: Callable[[str], None],
    ) -> None:
        self.policy, self.system, self.file = policy, system, file
        self.alarms, self.journal, self.say = alarms, journal, say
        self.is_trusted = self._has_leapt = False
        self.offset_s = system.unix_s() - system.boot_s()
        self._synchronised_boot_s: float | None = None
        self._refuted: set[Evidence] = set()

    def begin(self, state: State | None) -> None:
        """Decide whether the clock is trusted when the player starts."""
        if was_trusted(state, self.system):
            self.is_trusted = True
            return
        if state is not None and state.is_trusted and same_boot(state, self.system):
            self._has_leapt = moved_since(state, self.system) > SET_BACK_S
        self._decide(self._evidence(state))
        if not self.is_trusted:
            self.journal.event(Event.SAFE)

    def notice_step(self, unix_s: float, boot_s: float) -> bool:
        """Return True if the clock was stepped since the last look; trust it no more if it lost its time."""
        offset_s = unix_s - boot_s
        moved_s, self.offset_s = offset_s - self.offset_s, offset_s
        if abs(moved_s) <= STEP_S:
            return False
        self._synchronised_boot_s = None
        self.say(f"the clock was stepped by {moved_s:+.1f} s, to {utc_text(int(unix_s))}")
        self.journal.event(Event.CLOCK_STEP)
        if abs(moved_s) > SET_BACK_S:
            self._has_leapt = moved_s > 0
        if self.is_trusted:
            # It was trusted and moved: whether it is synchronised is not asked again, unless it leapt far.
            policy = None if self._has_leapt else TrustPolicy.LATER
            self._decide(self._evidence(None), policy, SET_BACK_S)
            if not self.is_trusted:
                self.journal.event(Event.SAFE)
        return True

    def try_to_trust(self, state: State | None) -> None:
        """Trust the clock from now on if nothing speaks against it any more."""
        if not self.is_trusted:
            self._settle(state)
            self._decide(self._evidence(state))
            if self.is_trusted:
                self.journal.event(Event.RESUMED)

    def _settle(self, state: State | None) -> None:
        """Take what lies ahead for refuted if the clock has been synchronised for long."""
        now_s = self.system.boot_s()
        if self.system.is_synchronised() is not True:
            self._synchronised_boot_s = None
        elif self._synchronised_boot_s is None:
            self._synchronised_boot_s = now_s
        elif now_s - self._synchronised_boot_s >= SETTLED_S:
            unix_s = self.system.unix_s()
            self._refuted |= {one for one in self._evidence(state) if one.unix_s > unix_s}

    def _policy_now(self) -> TrustPolicy:
        """Return what is asked now: after a leap ahead, a battery clock at the start is no proof any more."""
        can_say = self.system.is_synchronised() is not None
        if self._has_leapt and can_say and self.policy is not TrustPolicy.LATER:
            return TrustPolicy.SYNCHRONISED
        return self.policy

    def _evidence(self, state: State | None) -> list[Evidence]:
        found = []
        written_s = self.file.mtime_s
        if written_s is not None:
            what = f"'{self.file.path}' was written"
            found.append(Evidence(written_s, what, "write the file again with the right clock"))
        if state is not None and state.is_trusted:
            what, way_out = (
                "the last moment in the state file",
                "remove 'state.json' and start again",
            )
            found.append(Evidence(state.unix_s, what, way_out))
        return [one for one in found if one not in self._refuted]

    def _decide(
        self, evidence: list[Evidence], policy: TrustPolicy | None = None, slack_s: float = 0.0
    ) -> None:
        policy = policy or self._policy_now()
        why = distrust_reason(policy, self.system, evidence, slack_s=slack_s)
        self.is_trusted = not why
        if why:
            text = f"safe state: the clock can't be trusted: {why}"
            self.alarms.set(AlarmKey.CLOCK, text)
        else:
            self.alarms.clear(AlarmKey.CLOCK)
