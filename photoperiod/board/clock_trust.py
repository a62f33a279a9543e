"""When a board's clock is believed.

A board without a battery clock starts in the past: in 1970, on the day its system was made, or at
the moment of its last shutdown. The last of these looks right and is not, so that "not before what
is known to have happened" alone is no proof; the system must say that it set the clock.
"""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.board.state_store import State
from photoperiod.board.system import World
from photoperiod.text import utc_text
from photoperiod.units import SECONDS_PER_DAY

#: A running player's clock may be set back by this much and still be believed [s]: people correct
#: clocks by hours, and a clock that lost its time is off by more. Our choice.
SET_BACK_S = SECONDS_PER_DAY

#: A clock that was trusted before in the same run of the machine still is, unless it has since moved
#: against the time since the start by more than this [s].
SAME_CLOCK_S = 3600


@dataclass(frozen=True, slots=True)
class Evidence:
    """Something that happened already, so that the clock can't be before it. [Unix seconds]"""

    unix_s: float
    what: str


def why_not(policy: str, world: World, evidence: list[Evidence], *, slack_s: float = 0.0) -> str:
    """Return why the clock is not believed; empty if it is. The same while nothing changes.

    Parameters
    ----------
    policy : str
        ``auto``: the system says its clock is synchronised, or a battery clock set it; where the
        system can't say, nothing is asked. ``synchronised``: the system says so. ``later``: nothing.
    world : World
        The machine.
    evidence : list of Evidence
        What has happened already.
    slack_s : float
        How far before the evidence the clock may be. [s]
    """
    latest = max(evidence, key=lambda e: e.unix_s, default=None)
    if latest is not None and world.unix_s() < latest.unix_s - slack_s:
        return f"it is before {latest.what} ({utc_text(latest.unix_s)})"
    if policy == "later":
        return ""
    told = world.is_synchronised()
    if told is True or (policy == "auto" and (told is None or world.has_battery_clock())):
        return ""
    return "the system has not synchronised it since it started"


def was_trusted(state: State | None, world: World) -> bool:
    """Return whether the clock was trusted before in this run of the machine, and has just run on.

    So a player that starts anew is not dark because the network is away just then.
    """
    if state is None or not state.is_trusted or not same_boot(state, world):
        return False
    moved = (world.unix_s() - world.boot_s()) - (state.unix_s - state.boot_s)
    return abs(moved) <= SAME_CLOCK_S


def same_boot(state: State, world: World) -> bool:
    """Return whether a state was written since the machine started."""
    return bool(world.boot_id) and state.boot_id == world.boot_id and state.boot_s <= world.boot_s()
