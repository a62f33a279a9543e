"""A kind of fault, and the list into which each is entered."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.world.machine import World

Steps = Iterator[None]


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind of fault.

    Parameters
    ----------
    name : str
        What it is.
    act : callable
        Begins it, yields once, and ends it.
    is_beyond : bool
        True if it is outside the player's reach: a welded contact, a device that hangs, a listener without
        its broker. Such a lamp may burn in planned darkness.
    alarm : str
        A part of the alarm that must come; empty if none must.
    alarm_s : float
        How long the fault lasts at least until the alarm must have come. [s]
    needs : str
        ``remote`` or ``local`` if only such a board can have it, ``sensor`` if it needs one.
    least_s, most_s : float
        How long it lasts. [s]
    """

    name: str
    act: Callable[[World], Steps]
    is_beyond: bool = False
    alarm: str = ""
    alarm_s: float = 0.0
    needs: str = ""
    least_s: float = 1.0
    most_s: float = 4 * 3600.0


FAULTS: dict[str, Fault] = {}


def fault(
    name: str,
    *,
    is_beyond: bool = False,
    alarm: str = "",
    alarm_s: float = 60.0,
    needs: str = "",
    least_s: float = 1.0,
    most_s: float = 4 * 3600.0,
) -> Callable[[Callable[[World], Steps]], Callable[[World], Steps]]:
    """Enter a fault into the list."""

    def enter(act: Callable[[World], Steps]) -> Callable[[World], Steps]:
        FAULTS[name] = Fault(name, act, is_beyond, alarm, alarm_s, needs, least_s, most_s)
        return act

    return enter
