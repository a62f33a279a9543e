"""What stands against a dose, in words, and what would free it."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.diagnostics.model import Path
from photoperiod.solve.movers import Mover


@dataclass(frozen=True, slots=True)
class Bound:
    """What stands against a dose: in words, what would free it, and its place in the schedule."""

    text: str
    way_out: str
    path: Path


def light_bound(mover: Mover, which: str) -> Bound:
    """Return the bound of a channel's peak light, ``least`` or ``most``."""
    path = (*mover.channel.path, "may_move", "peak_light_percent")
    moves = mover.channel.may_move
    if moves is None or moves.peak_light is None:
        if moves is None or not moves.together_with:
            return Bound(
                f"the peak of '{mover.id}', which may not move",
                f"`peak_light_percent` under `may_move` of '{mover.id}'",
                path,
            )
        told = f"'{mover.id}' at {'dark' if which == 'least' else 'full'}, in its ratio to '{mover.group}'"
        way = f"letting '{mover.id}' move without '{mover.group}'"
        return Bound(told, way, (*mover.channel.path, "may_move", "together_with"))
    if which == "most" and mover.path.most_light <= moves.peak_light[1]:
        full = f"'{mover.id}' is at full"
        return Bound(full, f"more light from another channel than '{mover.id}'", (*path, "full"))
    way = f"a {'lower least' if which == 'least' else 'higher most'} `peak_light_percent` of '{mover.id}'"
    return Bound(f"the {which} peak light of '{mover.id}'", way, (*path, which))


def day_bound(mover: Mover, which: str) -> Bound:
    """Return the bound of the length of a channel's day, ``least`` or ``most``."""
    way = f"a {'shorter least' if which == 'least' else 'longer most'} `day_hours` of '{mover.id}'"
    path = (*mover.channel.path, "may_move", "day_hours")
    return Bound(f"the {which} length of the day of '{mover.id}'", way, path)
