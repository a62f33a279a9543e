"""Alarms: what a person should look at, reported once when it begins and once when it ends."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

from photoperiod.board.alarm_hook import HookWord
from photoperiod.errors import os_reason


class AlarmKey(StrEnum):
    """The subject of an alarm; those of devices have keys such as ``output of 'blue'``."""

    TABLE = "table"
    EXPIRED = "expired"
    EARLY = "early"
    CLOCK = "clock"
    BROKER = "broker"
    OLDER_TABLE = "older table"
    ANOTHER_PLAYER = "another player"
    LOG = "log"
    STATE = "state"
    COPY = "copy of the table"
    HOLD = "hold"
    OVERRIDE = "override"
    METRICS = "metrics"


class Alarms:
    """The alarms that are active, by key.

    Parameters
    ----------
    say : callable
        Shows people one line of text.
    """

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._active: dict[str, str] = {}
        self.version = self.raised = 0
        self.tell: Callable[[HookWord, str], None] = lambda *_: None

    @property
    def keys(self) -> list[str]:
        """The keys of the active alarms, the oldest first."""
        return list(self._active)

    @property
    def texts(self) -> list[str]:
        """The texts of the active alarms, the oldest first."""
        return list(self._active.values())

    def set(self, key: str, text: str) -> bool:
        """Raise an alarm and return True if it is new. An alarm whose text changes is shown again."""
        is_new = key not in self._active
        if self._active.get(key) != text:
            self._active[key] = text
            self.version += 1
            self.raised += is_new
            self._say(f"alarm: {text}")
            self.tell(HookWord.ALARM, text)
        return is_new

    def has(self, key: str) -> bool:
        """Return True if an alarm is active."""
        return key in self._active

    def state_folder(self, error: OSError) -> None:
        """Raise the alarm that the player's own folder can't be written."""
        self.set(AlarmKey.STATE, f"the state folder can't be written: {os_reason(error)}")

    def clear(self, key: str) -> bool:
        """End an alarm and return True if it was active."""
        text = self._active.pop(key, None)
        if text is None:
            return False
        self.version += 1
        self._say(f"alarm over: {text}")
        self.tell(HookWord.OVER, text)
        return True
