"""Alarms: what a person should look at, told once when it begins and once when it is over."""

from __future__ import annotations

from collections.abc import Callable


class Alarms:
    """The alarms that hold now, by a key such as ``expired`` or ``output of 'blue'``."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._held: dict[str, str] = {}
        self.version = 0

    @property
    def texts(self) -> list[str]:
        """What is wrong now, the oldest first."""
        return list(self._held.values())

    def set(self, key: str, text: str) -> bool:
        """Hold an alarm; return True if it is new. In other words than before it is told again."""
        is_new = key not in self._held
        if self._held.get(key) != text:
            self._held[key] = text
            self.version += 1
            self._say(f"alarm: {text}")
        return is_new

    def clear(self, key: str) -> bool:
        """End an alarm; return True if it was held."""
        text = self._held.pop(key, None)
        if text is None:
            return False
        self.version += 1
        self._say(f"alarm over: {text}")
        return True
