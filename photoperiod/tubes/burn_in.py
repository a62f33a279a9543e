"""Plan a day on which new tubes run undimmed: the lit window, and who burns, waits or gives way.

While a tube owes burn-in its channel is dark or full. A day at full is shortened, not dimmed: a
window of full light around the plan's centre of light gives the plan's dose. Animals come before
tubes: what breaks a zone's limit or leaves its band of dose is not done, and the burn-in waits.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photoperiod.units import SECONDS_PER_DAY

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

#: Assignments are weighed at moments this far apart [s].
MOMENT_S = 60

#: Where a zone states no band, its dose may move by this share of the plan's. Our choice, no source.
DOSE_SHARE = 0.05

#: PPFD and doses that differ by this share are the same.
SLACK = 1e-9

#: A channel that gives way leaves this share of a zone's limit free, for the steps of its levels.
GIVE_WAY_SHARE = 0.01

#: With more channels that owe at once, only the first of them in the file are weighed together.
MOST_TOGETHER = 6


def moments(values: Floats) -> Floats:
    """Return the values of a day at the moments that are weighed, shape (86400 / MOMENT_S,)."""
    return values[::MOMENT_S]


def window_mask(start_s: int, stop_s: int) -> Bools:
    """Return which seconds of a day lie in a window that may cross midnight, shape (86400,)."""
    mask = np.zeros(SECONDS_PER_DAY, dtype=bool)
    mask[np.arange(start_s, stop_s) % SECONDS_PER_DAY] = True
    return mask


def window_around(centre_s: float, length_s: int, step_s: int) -> tuple[int, int]:
    """Return the window of a length, on the grid of times, whose middle is nearest to a moment.

    Parameters
    ----------
    centre_s : float
        The moment, from midnight. [s]
    length_s, step_s : int
        Length of the window, a multiple of the time step. [s]
    """
    start = int(np.floor((centre_s - length_s / 2) / step_s + 0.5)) * step_s
    return start, start + length_s


def inside(start_s: int, stop_s: int, lit: Bools, step_s: int) -> tuple[int, int] | None:
    """Return the window moved as little as needed so that others are lit before and after it.

    Parameters
    ----------
    start_s, stop_s : int
        The window. [s]
    lit : ndarray, shape (86400,)
        Whether other channels light what this one lights.
    step_s : int
        The time step. [s]

    Returns
    -------
    (int, int) or None
        None if there is no such place.
    """
    starts = np.arange(0, SECONDS_PER_DAY, step_s)
    good = lit[starts - 1] & lit[(starts + stop_s - start_s) % SECONDS_PER_DAY]
    if not good.any():
        return None
    moves = (starts[good] - start_s + SECONDS_PER_DAY // 2) % SECONDS_PER_DAY - SECONDS_PER_DAY // 2
    move = int(moves[np.abs(moves).argmin()])
    return start_s + move, stop_s + move


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """One channel as it is weighed.

    Parameters
    ----------
    id : str
        The channel.
    ppfd : mapping of zone to float
        PPFD at full on this day. [µmol m⁻² s⁻¹]
    light : ndarray, shape (moments,)
        Its light on an ordinary day. [fraction of full]
    owed_days : float
        Undimmed days it still owes; 0 for a channel that owes nothing.
    window : (int, int) or None
        The window at full that holds its dose; None if it owes nothing or can't run at full. [s]
    """

    id: str
    ppfd: Mapping[str, float]
    light: Floats
    owed_days: float = 0.0
    window: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a zone may get on a day.

    ``ppfd_max`` in µmol m⁻² s⁻¹ or None; ``dose_min``, ``dose_max`` as PPFD summed over moments.
    """

    ppfd_max: float | None
    dose_min: float
    dose_max: float


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
        Channels that owe burn-in and follow the plan all the same.
    scale : mapping of channel to ndarray, shape (moments,)
        Channels that give way, and what is left of their light. [fraction]
    outside : frozenset of str
        Channels at full whose window no other channel's light surrounds.
    reason : str
        Why the channels that wait do, in words; empty if none does.
    """

    windows: Mapping[str, tuple[int, int]]
    dark: frozenset[str] = frozenset()
    dimmed: frozenset[str] = frozenset()
    scale: Mapping[str, Floats]
    outside: frozenset[str] = frozenset()
    reason: str = ""


def plan_day(
    lamps: Sequence[Lamp],
    limits: Mapping[str, Limits],
    night_ppfd: float,
    step_s: int,
    burning: frozenset[str] = frozenset(),
) -> DayPlan:
    """Return the best day for channels of which some owe burn-in.

    Best is, in this order: no zone over its limit or outside its band of dose; the fewest channels
    dimmed while they owe; those that burned in the day before go on, so that one debt after the other
    is paid; the most burn-in paid, longest debts first; nobody giving way; windows
    surrounded by other light. A debtor waits in the dark only while another burns in. A day as
    planned, with every debtor dimmed, is always possible.

    Parameters
    ----------
    lamps : sequence of Lamp
        All channels.
    limits : mapping of zone to Limits
        All zones.
    night_ppfd : float
        Below this a zone counts as dark. [µmol m⁻² s⁻¹]
    step_s : int
        The controller's time step. [s]
    burning : frozenset of str
        The channels that burned in the day before.
    """
    everyone = [lamp for lamp in lamps if lamp.owed_days > 0]
    debtors, rest = everyone[:MOST_TOGETHER], frozenset(e.id for e in everyone[MOST_TOGETHER:])
    best: tuple[tuple[float, ...], DayPlan] | None = None
    refused = ""
    for states in itertools.product(("full", "dark", "dimmed"), repeat=len(debtors)):
        chosen = dict(zip((lamp.id for lamp in debtors), states, strict=True))
        if any(chosen[lamp.id] == "full" and lamp.window is None for lamp in debtors):
            continue
        if "dark" in states and "full" not in states:
            continue  # to stay dark for days on end while nobody burns in helps no tube
        plan, why = _weigh(lamps, chosen, limits, night_ppfd, step_s)
        if plan is None:
            if "full" in states and not refused:
                refused = why
            continue
        paid = sum(lamp.owed_days for lamp in debtors if chosen[lamp.id] == "full")
        goes_on = len(burning & plan.windows.keys())
        score = (len(plan.dimmed), -goes_on, -paid, len(plan.scale), len(plan.outside),
                 len(plan.dark))  # fmt: skip
        if best is None or score < best[0]:
            best = (score, plan)
    if best is None:  # the plan itself is outside its limits: it is not for the burn-in to mend
        best = ((0.0,), DayPlan(windows={}, dimmed=frozenset(e.id for e in debtors), scale={}))
    plan = best[1]
    waiting = plan.dark | plan.dimmed
    if any(lamp.window is None for lamp in debtors if lamp.id in waiting):
        refused = (
            "its output can't bring it to full, or its day holds less than a time step at full"
        )
    reason = refused if waiting else ""
    return DayPlan(windows=plan.windows, dark=plan.dark, dimmed=plan.dimmed | rest, scale=plan.scale,
                   outside=plan.outside, reason=reason)  # fmt: skip


def _weigh(lamps: Sequence[Lamp], chosen: Mapping[str, str], limits: Mapping[str, Limits],
           night_ppfd: float, step_s: int) -> tuple[DayPlan | None, str]:  # fmt: skip
    """Return the day with some choices, or None and why it can't be."""
    others = [lamp for lamp in lamps if chosen.get(lamp.id, "dimmed") == "dimmed"]
    windows, outside = {}, set()
    for lamp in lamps:
        if chosen.get(lamp.id) != "full" or lamp.window is None:
            continue
        start, stop = lamp.window
        lit = _lit_by(others, lamp, night_ppfd)
        found = inside(start, stop, lit, step_s)
        if found is None:
            outside.add(lamp.id)
        windows[lamp.id] = found or (start, stop)
    full = {
        lamp.id: moments(window_mask(*windows[lamp.id]).astype(np.float64))
        for lamp in lamps
        if lamp.id in windows
    }
    scale, why = _give_way(lamps, others, full, limits)
    if scale is None:
        return None, why
    for zone, limit in limits.items():
        dose = sum(
            float(
                (full[lamp.id] if lamp.id in full else lamp.light * scale.get(lamp.id, 1.0)).sum()
            )
            * lamp.ppfd.get(zone, 0.0)
            for lamp in lamps
            if lamp.id in full or lamp in others
        )
        if dose < limit.dose_min * (1 - SLACK):
            return None, f"zone '{zone}' would get too little light"
        if dose > limit.dose_max * (1 + SLACK):
            return None, f"zone '{zone}' would get too much light over the day"
    plan = DayPlan(
        windows=windows,
        dark=frozenset(id for id, state in chosen.items() if state == "dark"),
        dimmed=frozenset(id for id, state in chosen.items() if state == "dimmed"),
        scale=scale,
        outside=frozenset(outside),
    )
    return plan, ""


def _lit_by(others: Sequence[Lamp], lamp: Lamp, night_ppfd: float) -> Bools:
    """Return whether other channels light every zone of a lamp that they light at all."""
    result = np.ones(SECONDS_PER_DAY // MOMENT_S, dtype=bool)
    is_alone = True
    for zone, ppfd in lamp.ppfd.items():
        given = [other for other in others if other.ppfd.get(zone, 0.0) > 0 and other is not lamp]
        if ppfd <= 0 or not given:
            continue
        is_alone = False
        result &= sum(other.light * other.ppfd[zone] for other in given) >= night_ppfd
    if is_alone:
        return np.zeros(SECONDS_PER_DAY, dtype=bool)
    return np.repeat(result, MOMENT_S)


def _give_way(lamps: Sequence[Lamp], others: Sequence[Lamp], full: Mapping[str, Floats],
              limits: Mapping[str, Limits]) -> tuple[dict[str, Floats] | None, str]:  # fmt: skip
    """Return what is left of the light of the channels that must give way; None if it is no use."""
    scale: dict[str, Floats] = {}
    for zone, limit in limits.items():
        if limit.ppfd_max is None:
            continue
        burning = np.zeros(SECONDS_PER_DAY // MOMENT_S)
        for lamp in lamps:
            if lamp.id in full:
                burning += full[lamp.id] * lamp.ppfd.get(zone, 0.0)
        most = limit.ppfd_max * (1 + SLACK)
        if burning.max() > most:
            return None, (
                f"zone '{zone}' would get {burning.max():.0f} µmol m⁻² s⁻¹, over its"
                f" ppfd_max of {limit.ppfd_max:g}"
            )
        rest = np.zeros_like(burning)
        for lamp in others:
            rest += lamp.light * lamp.ppfd.get(zone, 0.0)
        most = limit.ppfd_max * (1 - GIVE_WAY_SHARE)
        over = (burning > 0) & (burning + rest > most)
        if not over.any():
            continue
        left = np.ones_like(rest)
        left[over] = np.maximum(most - burning[over], 0.0) / rest[over]
        for lamp in others:
            if lamp.ppfd.get(zone, 0.0) > 0:
                scale[lamp.id] = np.minimum(scale.get(lamp.id, left), left)
    return scale, ""
