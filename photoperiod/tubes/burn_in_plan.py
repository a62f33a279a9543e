"""What the channels do on a day: which burn in, wait or give way. Most days have none of these."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.arrays import Floats

#: When a channel is at full: the first second, and the first one after it; it may cross midnight. [s]
Window = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """What the channels do on a day.

    Parameters
    ----------
    windows : mapping of channel to (int, int)
        Channels at full, and when. [s]
    dark : frozenset of str
        Channels that owe burn-in and stay dark.
    dimmed : frozenset of str
        Channels that owe burn-in and go by the plan.
    scale : mapping of channel to ndarray, shape (1440,)
        Channels that give way, and what is left of their light. [fraction]
    outside : frozenset of str
        Channels at full whose window no other channel's light surrounds.
    reasons : mapping of channel to str
        Why each channel that waits does, in words.
    """

    windows: Mapping[str, Window]
    dark: frozenset[str] = frozenset()
    dimmed: frozenset[str] = frozenset()
    scale: Mapping[str, Floats]
    outside: frozenset[str] = frozenset()
    reasons: Mapping[str, str]

    @property
    def key(self) -> tuple[object, ...]:
        """What decides the tables of the day; all parts are empty for a day by the plan."""
        scale = tuple((id, part.tobytes()) for id, part in sorted(self.scale.items()))
        return tuple(sorted(self.windows.items())), self.dark, scale

    @property
    def is_by_plan(self) -> bool:
        """Whether the day goes by the plan."""
        return not any(self.key)


#: A day by the plan.
BY_PLAN = DayPlan(windows={}, scale={}, reasons={})
