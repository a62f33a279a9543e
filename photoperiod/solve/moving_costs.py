"""What it costs to move light and ends of days, so that the least is moved that gives the doses.

Light moves first, all channels by the same ratio as far as doses and bounds let. Ends of days move only where
light alone does not give the doses. Where that leaves a choice, the day that takes least energy is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.solve.movers import Mover
from photoperiod.units import SECONDS_PER_DAY

#: What it costs to move both ends of a day by half a day each, or light by all of it [ratio]. Twice the
#: length gives about twice the dose, as twice the light does: so ends come last.
PRICE_OF_ENDS, PRICE_OF_LIGHT = 10.0, 1e-2

#: The sum of what moves counts by this share beside the largest of it [ratio].
SHARE_OF_SUM = 1e-2

#: Energy, or where watts are not known the length of the day, decides ties only [ratio].
PRICE_OF_ENERGY = 1e-6

#: Light counts a little where ties go to the shortest day [ratio].
LIGHT_COUNTS = 0.01


@dataclass(frozen=True, slots=True)
class Moved:
    """Unknowns whose distance from the file costs something.

    Parameters
    ----------
    at : sequence of int
        Which of the unknowns.
    scales : sequence of float
        How far one of each unknown moves. [ratio]
    by_file : float
        What each of them is by the file.
    price : float
        What it costs that the one that moves most moves by 1.
    """

    at: Sequence[int]
    scales: Sequence[float]
    by_file: float
    price: float

    @property
    def price_of_each(self) -> float:
        """What it costs beside that if one of them moves by 1."""
        return self.price * SHARE_OF_SUM / max(len(self.at), 1)


def moved_costs(
    movers: Mapping[str, Mover], groups: Sequence[str], timed: Sequence[str]
) -> Iterator[Moved]:
    """Yield what moves: the factor of light of each group, and the steps of each day that has other ends.

    The unknowns are the factors in the order of ``groups``, then the steps in that of ``timed``.
    """
    yield Moved(range(len(groups)), [1.0] * len(groups), 1.0, PRICE_OF_LIGHT)
    scales = [2 * movers[id].step_s / SECONDS_PER_DAY for id in timed]
    at = range(len(groups), len(groups) + len(timed))
    yield Moved(at, scales, 0.0, PRICE_OF_ENDS)


def tie_costs(
    movers: Mapping[str, Mover], timed: Sequence[str], size: int, slopes: Mapping[str, Floats]
) -> Floats:
    """Return what the unknowns cost where movement leaves a choice.

    Parameters
    ----------
    movers : mapping of channel to Mover
        What may move.
    timed : sequence of str
        The channels whose ends move, in the order of the last unknowns.
    size : int
        How many unknowns there are.
    slopes : mapping of channel to ndarray, shape (size,)
        How the light of each channel changes with each unknown. [s at full]

    Returns
    -------
    ndarray, shape (size,)
        Energy if all ballasts that may move tell their watts, else the length of days.
    """
    energy, length, light = np.zeros(size), np.zeros(size), np.zeros(size)
    for id, mover in movers.items():
        count, watts = mover.channel.ballast_count, mover.channel.ballast.watts
        light += slopes[id] / SECONDS_PER_DAY
        per_step = np.zeros(size)
        if id in timed:
            per_step[size - len(timed) + timed.index(id)] = 2 * mover.step_s / SECONDS_PER_DAY
        length += per_step * max(len(mover.channel.tubes), 1)
        if watts is not None:
            floor = mover.channel.ballast.curve.floor_light
            per_light = (watts.full - watts.floor) / (1 - floor)
            energy += count * per_light * slopes[id] / SECONDS_PER_DAY
            energy += count * (watts.floor - per_light * floor) * per_step
    watts_of = [(m.channel.ballast.watts, m.channel.ballast_count) for m in movers.values()]
    if all(watts is not None for watts, _ in watts_of):
        total = sum(watts.full * count for watts, count in watts_of if watts is not None)
        return PRICE_OF_ENERGY * energy / max(total, 1e-9)
    return PRICE_OF_ENERGY * (length + LIGHT_COUNTS * light) / len(movers)
