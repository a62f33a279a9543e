"""What is wrong in a simulated world: a broken law, and ends of a process that no code sees coming."""

from __future__ import annotations

DAY_S = 86_400


class Violation(AssertionError):
    """Something that must never happen has happened."""


class ProcessEnd(BaseException):
    """The process of the player ends between two effects, as SIGKILL does it."""


class PowerCut(ProcessEnd):
    """The board loses its power between two effects."""
