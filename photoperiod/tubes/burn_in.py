"""Plan a day on which new tubes run undimmed: the lit window, and who burns, waits or gives way.

While a tube owes burn-in its channel is dark or full. A day at full is shortened, not dimmed: a
window of full light around the plan's centre of light gives the plan's dose. Animals come before
tubes: what breaks a zone's limit or leaves its band of dose is not done, and the burn-in waits.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_DAY, UMOL_PER_MOL

#: Assignments are weighed at moments this far apart [s].
MOMENT_S = 60

#: The PPFD of a zone that no channel lights, minute by minute. [µmol m⁻² s⁻¹]
NO_LIGHT = np.zeros(SECONDS_PER_DAY // MOMENT_S)

#: Where a zone states no band, its dose may move by this share of the plan's. Our choice, no source.
DOSE_SHARE = 0.05

#: PPFD and doses that differ by this share are the same.
SLACK = 1e-9

#: A channel that gives way leaves this share of a zone's limit free, for the steps of its levels.
GIVE_WAY_SHARE = 0.01

#: What is left of the light of a channel that gives way is a multiple of this, so that tubes that
#: fade don't ask for another table every day.
GIVE_WAY_STEP = 1 / 200

#: With more channels that could burn in at once, only this many of them are weighed together.
MOST_TOGETHER = 6

#: How many of the best assignments are tried on real tables before the burn-in waits.
MOST_TRIED = 12


@dataclass(frozen=True, slots=True)
class Moments:
    """Light of a day by the minute, both of shape (1440,) [fraction of full].

    ``most`` is the most within each minute, by which limits are weighed; ``mean`` its mean, by which
    doses are.
    """

    most: Floats
    mean: Floats

    @classmethod
    def of(cls, light: Floats) -> Moments:
        """Return the moments of a day, shape (86400,)."""
        minutes = light.reshape(-1, MOMENT_S)
        return cls(most=minutes.max(axis=1), mean=minutes.mean(axis=1))


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
    # To the millisecond: two windows that are as near must not be told apart by how sums were rounded.
    start = int(np.floor((round(centre_s, 3) - length_s / 2) / step_s + 0.5)) * step_s
    return start, start + length_s


def inside(
    start_s: int, stop_s: int, lit: Bools, own: Bools, step_s: int
) -> tuple[int, int] | None:
    """Return the window moved as little as needed so that others are lit before and after it.

    It never leaves the time in which its channel is lit by plan, but for a time step at its ends.

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
        None if there is no such place.
    """
    length_s = stop_s - start_s
    starts = np.arange(0, SECONDS_PER_DAY, step_s)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """One channel as it is weighed.

    Parameters
    ----------
    id : str
        The channel.
    ppfd : mapping of zone to float
        PPFD at full on this day. [µmol m⁻² s⁻¹]
    light : Moments
        Its light on an ordinary day.
    least : float
        The least light that it can give; 0 if it can be dark. [fraction of full]
    must_not_dim : bool
        Whether it owes burn-in although its ordinary day is dark or full: it can't give way.
    owed_days : float
        Undimmed days it still owes; 0 for a channel that owes nothing.
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
    window: tuple[int, int] | None = None
    full: Floats | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a zone may get on a day.

    ``ppfd_max`` in µmol m⁻² s⁻¹ or None; ``dose_min``, ``dose_max`` in mol m⁻² d⁻¹;
    ``dose_min_of``, ``dose_max_of`` say in words where these are from.
    """

    ppfd_max: float | None
    dose_min: float
    dose_max: float
    dose_min_of: str = "its band"
    dose_max_of: str = "its band"


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
    scale : mapping of channel to ndarray, shape (1440,)
        Channels that give way, and what is left of their light. [fraction]
    outside : frozenset of str
        Channels at full whose window no other channel's light surrounds.
    reasons : mapping of channel to str
        Why each channel that waits does, in words.
    """

    windows: Mapping[str, tuple[int, int]]
    dark: frozenset[str] = frozenset()
    dimmed: frozenset[str] = frozenset()
    scale: Mapping[str, Floats]
    outside: frozenset[str] = frozenset()
    reasons: Mapping[str, str]

    @property
    def key(self) -> tuple[object, ...]:
        """What the tables of the day follow from; empty parts for a day by the plan."""
        scale = tuple((id, part.tobytes()) for id, part in sorted(self.scale.items()))
        return tuple(sorted(self.windows.items())), self.dark, scale

    @property
    def is_usual(self) -> bool:
        """Whether the day goes by the plan."""
        return not any(self.key)


#: A day by the plan.
BY_PLAN = DayPlan(windows={}, scale={}, reasons={})


def plan_day(
    lamps: Sequence[Lamp],
    limits: Mapping[str, Limits],
    night_ppfd: float,
    step_s: int,
    burning: frozenset[str] = frozenset(),
    refusal: Callable[[DayPlan], str] = lambda _: "",
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
    refusal : callable
        Given a day, why its tables can't be used, in words; empty if they can.
    """
    return _Choice(lamps, limits, night_ppfd, step_s, burning).best(refusal)


class _Choice:
    """The assignments of a day: who burns in, who waits in the dark, who goes by the plan."""

    def __init__(self, lamps: Sequence[Lamp], limits: Mapping[str, Limits], night_ppfd: float,
                 step_s: int, burning: frozenset[str]) -> None:  # fmt: skip
        self.lamps, self.limits, self.burning = lamps, limits, burning
        self.night_ppfd, self.step_s = night_ppfd, step_s
        self._known: dict[tuple[str, tuple[int, int]], Moments] = {}
        self._placed: dict[tuple[str, frozenset[str]], tuple[tuple[int, int] | None, bool]] = {}
        self.debtors = [lamp for lamp in lamps if lamp.owed_days > 0]
        #: Why each can't burn in while all others go by the plan; empty if it can.
        self.alone = {
            lamp.id: lamp.why
            if lamp.window is None
            else self._weigh({each.id: "dimmed" for each in self.debtors} | {lamp.id: "full"})[1]
            for lamp in self.debtors
        }
        hopeful = [lamp for lamp in self.debtors if self._may_ever(lamp)]
        hopeful.sort(key=lambda lamp: (lamp.id not in burning, self.alone[lamp.id] != ""))
        first = {lamp.id for lamp in hopeful[:MOST_TOGETHER]}
        self.weighed = [lamp for lamp in self.debtors if lamp.id in first]
        self.never = frozenset(lamp.id for lamp in self.debtors if lamp.id not in first)

    def _may_ever(self, lamp: Lamp) -> bool:
        """Return False if a lamp can't burn in whatever the others do."""
        return lamp.window is not None and lamp.full is not None and all(
            limit.ppfd_max is None
            or lamp.ppfd.get(zone, 0.0) * float(lamp.full.max()) <= limit.ppfd_max * (1 + SLACK)
            for zone, limit in self.limits.items()
        )  # fmt: skip

    def best(self, refusal: Callable[[DayPlan], str]) -> DayPlan:
        """Return the first day, best first, that is not refused."""
        on_tables: dict[str, str] = {}  # of each that was tried alone: why its tables are refused

        def refusal_alone(id: str) -> str:
            if id not in on_tables:
                chosen = {each.id: "dimmed" for each in self.debtors} | {id: "full"}
                plan, why = self._weigh(chosen)
                on_tables[id] = why if plan is None else refusal(plan)
            return on_tables[id]

        tried, found = 0, self._all_dimmed()
        for plan in self._plans():
            if not plan.windows:
                found = plan
                break
            is_hopeless = any(on_tables.get(id) for id in plan.windows)
            if is_hopeless or (tried >= MOST_TRIED and len(plan.windows) > 1):
                continue
            tried += 1
            if not refusal(plan):
                found = plan
                break
            for id in plan.windows:  # who is at fault is left out of what is tried next
                refusal_alone(id)
        waiting = sorted(found.dark | found.dimmed)
        for id in waiting:
            if not self.alone[id] and not found.windows:
                refusal_alone(id)
        return self._explained(found, on_tables)

    def _all_dimmed(self) -> DayPlan:
        return replace(BY_PLAN, dimmed=frozenset(lamp.id for lamp in self.debtors))

    def _plans(self) -> Iterator[DayPlan]:
        """Yield the possible days, the best first."""
        assignments = []
        for states in itertools.product(("full", "dark", "dimmed"), repeat=len(self.weighed)):
            if "dark" in states and "full" not in states:
                continue  # to stay dark for days on end while nobody burns in helps no tube
            chosen = dict(zip((lamp.id for lamp in self.weighed), states, strict=True))
            paid = sum(lamp.owed_days for lamp in self.weighed if chosen[lamp.id] == "full")
            goes_on = sum(chosen.get(id) == "full" for id in self.burning)
            assignments.append(
                ((states.count("dimmed"), -goes_on, -paid), states.count("dark"), chosen)
            )
        assignments.sort(key=lambda each: each[:2])
        waiting: list[tuple[tuple[float, ...], int, DayPlan]] = []
        for number, (merit, dark, chosen) in enumerate(assignments):
            while waiting and waiting[0][0] <= (*merit, 0, 0, dark):
                yield heapq.heappop(waiting)[2]
            plan, _ = self._weigh(chosen | dict.fromkeys(self.never, "dimmed"))
            if plan is not None:
                score = (*merit, len(plan.scale), len(plan.outside), dark)
                heapq.heappush(waiting, (score, number, plan))
        while waiting:
            yield heapq.heappop(waiting)[2]

    def _explained(self, plan: DayPlan, refused: Mapping[str, str]) -> DayPlan:
        """Return a day that says of each channel that waits why it does."""
        first = " and ".join(f"'{id}'" for id in plan.windows)
        reasons = {
            id: self.alone[id]
            or refused.get(id, "")
            or (f"{first} burns in first" if len(plan.windows) == 1 else f"{first} burn in first")
            for id in sorted(plan.dark | plan.dimmed)
        }
        return replace(plan, reasons=reasons)

    def _weigh(self, chosen: Mapping[str, str]) -> tuple[DayPlan | None, str]:
        """Return the day with some choices, or None and why it can't be."""
        others = [lamp for lamp in self.lamps if chosen.get(lamp.id, "dimmed") == "dimmed"]
        windows, outside, full = {}, set(), {}
        for lamp in self.lamps:
            if chosen.get(lamp.id) != "full" or lamp.window is None or lamp.full is None:
                continue
            place, is_outside = self._place(lamp, others)
            if place is None:
                return None, TOO_LONG
            if is_outside:
                outside.add(lamp.id)
            windows[lamp.id] = place
            full[lamp.id] = self._moved(lamp, windows[lamp.id])
        scale, why = _give_way(self.lamps, others, full, self.limits)
        if scale is None:
            return None, why
        given = {
            lamp.id: float((lamp.light.mean * scale.get(lamp.id, 1.0)).sum()) for lamp in others
        }
        given |= {id: float(light.mean.sum()) for id, light in full.items()}
        for zone, limit in self.limits.items():
            sources = ((lamp.ppfd.get(zone, 0.0), given.get(lamp.id, 0.0)) for lamp in self.lamps)
            dose = zone_ppfd(sources, 0.0) * MOMENT_S / UMOL_PER_MOL
            why = dose_fault(zone, dose, limit)
            if why:
                return None, why
        plan = DayPlan(
            windows=windows,
            dark=frozenset(id for id, state in chosen.items() if state == "dark"),
            dimmed=frozenset(id for id, state in chosen.items() if state == "dimmed"),
            scale=scale,
            outside=frozenset(outside),
            reasons={},
        )
        return plan, ""

    def _place(self, lamp: Lamp, others: Sequence[Lamp]) -> tuple[tuple[int, int] | None, bool]:
        """Return the window of a lamp, and whether no others' light surrounds it."""
        key = lamp.id, frozenset(other.id for other in others)
        if key not in self._placed:
            self._placed[key] = self._find_place(lamp, others)
        return self._placed[key]

    def _find_place(
        self, lamp: Lamp, others: Sequence[Lamp]
    ) -> tuple[tuple[int, int] | None, bool]:
        if lamp.window is None:
            return None, True
        own = np.repeat(lamp.light.most > 0, MOMENT_S)
        lit = _lit_by(others, lamp, self.night_ppfd)
        found = inside(*lamp.window, lit, own, self.step_s)
        if found is not None:
            return found, False
        return inside(*lamp.window, np.ones_like(lit), own, self.step_s), True

    def _moved(self, lamp: Lamp, window: tuple[int, int]) -> Moments:
        """Return the light of a lamp whose window is moved."""
        if (lamp.id, window) not in self._known and lamp.full is not None and lamp.window:
            light = np.roll(lamp.full, window[0] - lamp.window[0])
            self._known[lamp.id, window] = Moments.of(light)
        return self._known[lamp.id, window]


#: Why a lamp has no window where its plan's dose takes longer at full than its plan's day.
TOO_LONG = "its dose would take longer at full than its own day by plan"


def dose_fault(zone: str, dose: float, limit: Limits) -> str:
    """Return in words how a dose is outside a zone's limits; empty if it is not.

    ``dose`` is in mol m⁻² d⁻¹.
    """
    if dose < limit.dose_min * (1 - SLACK):
        side, bound, whose = "less", limit.dose_min, limit.dose_min_of
    elif dose > limit.dose_max * (1 + SLACK):
        side, bound, whose = "more", limit.dose_max, limit.dose_max_of
    else:
        return ""
    decimals = 2 if number_text(dose) != number_text(bound) else 4
    return (
        f"zone '{zone}' would get a DLI of {number_text(dose, decimals)} mol m⁻² d⁻¹, {side} than"
        f" {number_text(bound, decimals)} ({whose})"
    )


def _lit_by(others: Sequence[Lamp], lamp: Lamp, night_ppfd: float) -> Bools:
    """Return whether other channels light every zone of a lamp that they light at all."""
    result = np.ones(SECONDS_PER_DAY // MOMENT_S, dtype=bool)
    is_alone = True
    for zone, ppfd in lamp.ppfd.items():
        given = [other for other in others if other.ppfd.get(zone, 0.0) > 0 and other is not lamp]
        if ppfd <= 0 or not given:
            continue
        is_alone = False
        sources = ((other.ppfd[zone], other.light.mean) for other in given)
        result &= zone_ppfd(sources, NO_LIGHT) >= night_ppfd
    if is_alone:
        return np.zeros(SECONDS_PER_DAY, dtype=bool)
    return np.repeat(result, MOMENT_S)


def _give_way(lamps: Sequence[Lamp], others: Sequence[Lamp], full: Mapping[str, Moments],
              limits: Mapping[str, Limits]) -> tuple[dict[str, Floats] | None, str]:  # fmt: skip
    """Return what is left of the light of the channels that must give way; None if it is no use."""
    scale: dict[str, Floats] = {}
    for zone, limit in limits.items():
        if limit.ppfd_max is None:
            continue
        burning = _burning(zone, lamps, full)
        if burning.max() > limit.ppfd_max * (1 + SLACK):
            return None, (
                f"zone '{zone}' would get {number_text(float(burning.max()), 1)} µmol m⁻² s⁻¹, over its"
                f" ppfd_max of {limit.ppfd_max:g}"
            )
        rest = zone_ppfd(((lamp.ppfd.get(zone, 0.0), lamp.light.most) for lamp in others), NO_LIGHT)
        most = limit.ppfd_max * (1 - GIVE_WAY_SHARE)
        over = (burning > 0) & (burning + rest > most)
        if not over.any():
            continue
        left = np.ones_like(rest)
        left[over] = np.maximum(most - burning[over], 0.0) / rest[over]
        left = np.floor(left / GIVE_WAY_STEP + SLACK) * GIVE_WAY_STEP
        for lamp in others:
            if lamp.ppfd.get(zone, 0.0) > 0:
                scale[lamp.id] = np.minimum(scale.get(lamp.id, left), left)
    for lamp in others:
        if lamp.id in scale and lamp.must_not_dim:
            return None, f"'{lamp.id}' would have to give way, and owes burn-in itself"
    why = _over_at_the_floor(lamps, others, full, limits, scale)
    return (None, why) if why else (scale, "")


def _burning(zone: str, lamps: Sequence[Lamp], full: Mapping[str, Moments]) -> Floats:
    """Return the PPFD that channels at full give a zone, minute by minute, shape (1440,)."""
    sources = ((lamp.ppfd.get(zone, 0.0), full[lamp.id].most) for lamp in lamps if lamp.id in full)
    return zone_ppfd(sources, NO_LIGHT)


def _over_at_the_floor(lamps: Sequence[Lamp], others: Sequence[Lamp], full: Mapping[str, Moments],
                       limits: Mapping[str, Limits], scale: Mapping[str, Floats]) -> str:  # fmt: skip
    """Return why giving way is not enough where lamps are never dark; empty if it is."""
    held = [lamp for lamp in others if lamp.id in scale and lamp.least > 0]
    for zone, limit in limits.items():
        if limit.ppfd_max is None or not any(lamp.ppfd.get(zone, 0.0) > 0 for lamp in held):
            continue
        burning = _burning(zone, lamps, full)
        kept = (
            (
                lamp.ppfd.get(zone, 0.0),
                np.maximum(lamp.light.most * scale.get(lamp.id, 1.0), lamp.least),
            )
            for lamp in others
        )
        total = zone_ppfd(kept, burning)
        most = float(total[burning > 0].max(initial=0.0))
        if most > limit.ppfd_max * (1 + SLACK):
            return (
                f"zone '{zone}' would get {number_text(most, 1)} µmol m⁻² s⁻¹, over its ppfd_max of"
                f" {limit.ppfd_max:g}, because '{held[0].id}' can't go below its floor"
            )
    return ""
