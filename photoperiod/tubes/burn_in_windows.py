"""Windows at full: where on a day a channel that burns in is lit, and what it gives meanwhile.

A day at full is shortened, not dimmed: a window of full light around the plan's centre of light gives
the plan's dose.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.tubes.burn_in_plan import Window
from photoperiod.units import SECONDS_PER_DAY

#: Plans of a day are compared at moments this far apart [s].
MOMENT_S = 60

#: The PPFD of a zone that no channel lights, minute by minute. [µmol m⁻² s⁻¹]
NO_LIGHT = np.zeros(SECONDS_PER_DAY // MOMENT_S)


@dataclass(frozen=True, slots=True)
class Moments:
    """Light of a day by the minute, both of shape (1440,) [fraction of full].

    ``most`` is the most within each minute, by which limits are judged; ``mean`` its mean, by which
    doses are.
    """

    most: Floats
    mean: Floats

    @classmethod
    def of(cls, light: Floats) -> Moments:
        """Return the moments of a day, shape (86400,)."""
        minutes = light.reshape(-1, MOMENT_S)
        return cls(most=minutes.max(axis=1), mean=minutes.mean(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeighedChannel:
    """One channel, as the plans of a day are compared.

    Parameters
    ----------
    id : str
        The channel.
    ppfd : mapping of zone to float
        PPFD at full on this day, for doses. [µmol m⁻² s⁻¹]
    limit_ppfd : mapping of zone to float
        The same for limits, where it is not that for doses. [µmol m⁻² s⁻¹]
    light : Moments
        Its light on a day by the plan.
    least : float
        The least light that it can give; 0 if it can be dark. [fraction of full]
    must_not_dim : bool
        True if it owes burn-in and its day by the plan is dark or full: it can't give way.
    owed_days : float
        How many days at full its burn-in still takes; 0 for a channel that owes nothing.
    window : (int, int) or None
        The window at full that holds its dose; None if it owes nothing or can't run at full. [s]
    full : ndarray of shape (86400,) or None
        Its light on a day with that window. [fraction of full]
    why : str
        Why a channel that owes burn-in has no window.
    """

    id: str
    ppfd: Mapping[str, float]
    light: Moments
    least: float = 0.0
    must_not_dim: bool = False
    owed_days: float = 0.0
    window: Window | None = None
    full: Floats | None = None
    why: str = ""
    limit_ppfd: Mapping[str, float] = field(default_factory=dict)

    def most_in(self, zone: str) -> float:
        """Return the PPFD at full that a zone's limit is held against. [µmol m⁻² s⁻¹]"""
        return self.limit_ppfd.get(zone, self.ppfd.get(zone, 0.0))


@dataclass(frozen=True, slots=True)
class Placed:
    """A window in its place, and whether no other channel's light surrounds it there."""

    window: Window
    is_outside: bool


def window_mask(start_s: int, stop_s: int) -> Bools:
    """Return which seconds of a day lie in a window that may cross midnight, shape (86400,)."""
    mask = np.zeros(SECONDS_PER_DAY, dtype=bool)
    mask[np.arange(start_s, stop_s) % SECONDS_PER_DAY] = True
    return mask


def window_around(centre_s: float, length_s: int, step_s: int) -> Window:
    """Return the window of a length, on the grid of times, whose middle is nearest to a moment.

    Parameters
    ----------
    centre_s : float
        The moment, from midnight. [s]
    length_s, step_s : int
        Length of the window, a multiple of the time step. [s]
    """
    # To the millisecond: which of two windows as near is taken must not hang on rounding of sums.
    start = int(np.floor((round(centre_s, 3) - length_s / 2) / step_s + 0.5)) * step_s
    return start, start + length_s


def inside(start_s: int, stop_s: int, lit: Bools, own: Bools, step_s: int) -> Window | None:
    """Return the window moved as little as needed so that others are lit before and after it.

    It stays within the hours in which its channel is lit by the plan, give or take a time step at each
    end.

    Parameters
    ----------
    start_s, stop_s : int
        The window. [s]
    lit, own : ndarray, shape (86400,)
        Whether other channels light what this one lights, and whether this one is lit by plan.
    step_s : int
        The time step. [s]

    Returns
    -------
    (int, int) or None
        None if there is no such place. [s]
    """
    length_s = stop_s - start_s
    starts = np.arange(0, SECONDS_PER_DAY, step_s)
    # Of two days, so that a window over midnight is one difference of two sums.
    lit_before = np.concatenate(([0], np.cumsum(np.concatenate((own, own)))))
    good = lit[starts - 1] & lit[(starts + length_s) % SECONDS_PER_DAY]
    within = np.maximum(length_s - 2 * step_s, 0)
    begins = starts + min(step_s, length_s // 2)
    good &= lit_before[begins + within] - lit_before[begins] == within
    if not good.any():
        return None
    half = SECONDS_PER_DAY // 2
    moves = (starts[good] - start_s + half) % SECONDS_PER_DAY - half
    move = int(moves[np.abs(moves).argmin()])
    return start_s + move, stop_s + move


def place_window(
    channel: WeighedChannel, others: Sequence[WeighedChannel], night_ppfd: float, step_s: int
) -> Placed | None:
    """Return a channel's window, moved into the light of others if there is such a place.

    Parameters
    ----------
    channel : WeighedChannel
        The channel that burns in.
    others : sequence of WeighedChannel
        The channels that go by the plan.
    night_ppfd : float
        Below this a zone counts as dark. [µmol m⁻² s⁻¹]
    step_s : int
        The controller's time step. [s]

    Returns
    -------
    Placed or None
        None if the window is longer than the channel's own day by the plan.
    """
    if channel.window is None:
        return None
    own = np.repeat(channel.light.most > 0, MOMENT_S)
    lit = _lit_by(others, channel, night_ppfd)
    found = inside(*channel.window, lit, own, step_s)
    if found is not None:
        return Placed(found, is_outside=False)
    found = inside(*channel.window, np.ones_like(lit), own, step_s)
    return None if found is None else Placed(found, is_outside=True)


def moved_light(channel: WeighedChannel, window: Window) -> Moments:
    """Return the light of a channel at full whose window is moved to another place.

    Raises
    ------
    ValueError
        If the channel has no window.
    """
    if channel.full is None or channel.window is None:
        raise ValueError(f"'{channel.id}' has no window at full")
    return Moments.of(np.roll(channel.full, window[0] - channel.window[0]))


def _lit_by(others: Sequence[WeighedChannel], channel: WeighedChannel, night_ppfd: float) -> Bools:
    """Return whether others light each zone of a channel, of those that any of them lights.

    Shape (86400,); False all day if none of the zones is lit by another channel.
    """
    result = np.ones(SECONDS_PER_DAY // MOMENT_S, dtype=bool)
    is_alone = True
    for zone, ppfd in channel.ppfd.items():
        given = [
            other for other in others if other.ppfd.get(zone, 0.0) > 0 and other is not channel
        ]
        if ppfd <= 0 or not given:
            continue
        is_alone = False
        sources = ((other.ppfd[zone], other.light.mean) for other in given)
        result &= zone_ppfd(sources, NO_LIGHT) >= night_ppfd
    if is_alone:
        return np.zeros(SECONDS_PER_DAY, dtype=bool)
    return np.repeat(result, MOMENT_S)
