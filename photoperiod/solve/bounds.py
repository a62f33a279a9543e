"""What stands against a dose, in words, and where it stands in the schedule."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.diagnostics.model import Path
from photoperiod.solve.movers import Mover
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True)
class Bound:
    """What stands against a dose, in words with its value, and its place in the schedule."""

    text: str
    path: Path


def light_bound(mover: Mover, which: str) -> Bound:
    """Return the bound of a channel's peak light, ``least`` or ``most``."""
    path = (*mover.channel.path, "may_move", "peak_light_percent")
    moves = mover.channel.may_move
    if moves is None or moves.peak_light is None:
        if moves is None or not moves.together_with:
            return Bound(f"the peak of '{mover.id}', which may not move", path)
        told = f"'{mover.id}' at {'dark' if which == 'least' else 'full'}, in its ratio to '{mover.group}'"
        return Bound(told, (*mover.channel.path, "may_move", "together_with"))
    low, high = moves.peak_light
    if which == "most" and mover.path.most_light <= high:
        return Bound(f"'{mover.id}', which is at full", (*path, "full"))
    percent = number_text((low if which == "least" else high) * 100)
    return Bound(f"the {which} peak light of '{mover.id}' ({percent} %)", (*path, which))


def day_bound(mover: Mover, which: str) -> Bound:
    """Return the bound of the length of a channel's day, ``least`` or ``most``."""
    moves = mover.channel.may_move
    assert moves is not None
    assert moves.day_s is not None, "only what may move has a bound"
    hours = number_text(moves.day_s[which == "most"] / SECONDS_PER_HOUR)
    path = (*mover.channel.path, "may_move", "day_hours")
    return Bound(f"the {which} length of the day of '{mover.id}' ({hours} h)", (*path, which))
