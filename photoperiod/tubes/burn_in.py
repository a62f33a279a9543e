"""Compare the plans of a day on which new tubes run undimmed: who burns in, waits or gives way.

While a tube owes burn-in its channel is dark or full. Animals come before tubes: what breaks a zone's
limit or leaves its band of dose is not done, and the burn-in waits.

`possible_plans` yields the plans of a day, the best first. Best is, in this order: the fewest channels
dimmed while they owe; those that burned in the day before go on, so that one debt after the other is
paid; the most burn-in paid, longest debts first; nobody gives way; windows are surrounded by other
light. A channel that owes waits in the dark only while another burns in.
"""

from __future__ import annotations

import functools
import heapq
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.text import and_list, number_text
from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan, Window
from photoperiod.tubes.burn_in_windows import (
    MOMENT_S,
    NO_LIGHT,
    Moments,
    WeighedChannel,
    moved_light,
    place_window,
)
from photoperiod.units import UMOL_PER_MOL

#: Where a zone states no band, its dose may move by this share of the plan's. Our choice, no source.
DOSE_SHARE = 0.05

#: PPFD and doses that differ by this share are the same.
SLACK = 1e-9

#: A channel that gives way leaves this share of a zone's limit free, for the steps of its levels.
GIVE_WAY_SHARE = 0.01

#: What is left of the light of a channel that gives way is a multiple of this, so that fading tubes
#: do not need another table every day.
GIVE_WAY_STEP = 1 / 200

#: If more channels could burn in, only this many of them are weighed together: three states each are
#: 729 assignments.
MOST_TOGETHER = 6

#: Why a channel has no window where its plan's dose takes longer at full than its plan's day.
TOO_LONG = (
    "its dose would take longer at full than its own day by plan; it can burn in if its day is longer, or"
    " its peak lower"
)


class State(StrEnum):
    """What a channel that owes burn-in does on a day."""

    FULL = "full"
    DARK = "dark"
    DIMMED = "dimmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a zone may get on a day.

    Parameters
    ----------
    ppfd_max : float or None
        The most at any moment; None if the zone states none. [µmol m⁻² s⁻¹]
    dose_min, dose_max : float
        Bounds of the DLI. [mol m⁻² d⁻¹]
    dose_min_of, dose_max_of : str
        Where these bounds come from, in words.
    """

    ppfd_max: float | None
    dose_min: float
    dose_max: float
    dose_min_of: str = "its band"
    dose_max_of: str = "its band"

    @classmethod
    def of(
        cls,
        ppfd_max: float | None,
        dli_band: tuple[float, float] | None,
        planned: float,
        by_plan_now: float,
    ) -> Limits:
        """Return the limits of a zone: its band, or about the plan's dose.

        Parameters
        ----------
        ppfd_max, dli_band
            What the zone states; None where it states nothing.
        planned : float
            DLI of a day by the plan with tubes as measured. [mol m⁻² d⁻¹]
        by_plan_now : float
            DLI of a day by the plan with the light that tubes have now. [mol m⁻² d⁻¹]
        """
        low, high = planned * (1 - DOSE_SHARE), planned * (1 + DOSE_SHARE)
        low_of = high_of = f"{number_text(DOSE_SHARE * 100)} % from the plan's"
        if dli_band is not None:
            low, high = dli_band
            low_of = high_of = "its band"
        # Where a day by the plan is outside, it is not for the burn-in to mend.
        if by_plan_now < low:
            low = (1 - DOSE_SHARE) * by_plan_now
            low_of = f"{number_text(DOSE_SHARE * 100)} % from what a day by the plan gives now"
        if by_plan_now > high:
            high, high_of = by_plan_now, "what a day by the plan gives now"
        return cls(
            ppfd_max=ppfd_max, dose_min=low, dose_max=high, dose_min_of=low_of, dose_max_of=high_of
        )

    def acclimated(self, planned: float, by_plan_now: float) -> Limits:
        """Return the limits of a zone whose animals are not yet used to what its band allows.

        They get no more than a day by the plan gives: the band is for later. Less does no harm.
        """
        low, high = (1 - DOSE_SHARE) * by_plan_now, max(planned, by_plan_now)
        limits = replace(self, dose_min=min(self.dose_min, low))
        if high >= self.dose_max:
            return limits
        return replace(
            limits, dose_max=high, dose_max_of="the plan's, while animals get used to it"
        )


class WeighedDay:
    """A day whose plans are compared.

    Parameters
    ----------
    channels : sequence of WeighedChannel
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

    def __init__(
        self,
        channels: Sequence[WeighedChannel],
        limits: Mapping[str, Limits],
        night_ppfd: float,
        step_s: int,
        burning: frozenset[str] = frozenset(),
    ) -> None:
        self.channels, self.limits, self.burning = tuple(channels), limits, burning
        # Hundreds of assignments ask for the same few places.
        self.place = functools.cache(
            functools.partial(place_window, night_ppfd=night_ppfd, step_s=step_s)
        )
        self.moved_light = functools.cache(moved_light)

    @functools.cached_property
    def debtors(self) -> tuple[WeighedChannel, ...]:
        """The channels that owe burn-in."""
        return tuple(channel for channel in self.channels if channel.owed_days > 0)

    @functools.cached_property
    def alone(self) -> dict[str, str]:
        """Why each debtor can't burn in while all others go by the plan; empty if it can."""
        return {
            channel.id: channel.why
            if channel.window is None
            else judge(self, self.only(channel.id))[1]
            for channel in self.debtors
        }

    @functools.cached_property
    def contenders(self) -> tuple[WeighedChannel, ...]:
        """The debtors that are weighed together, in the order of the file."""
        hopeful = [channel for channel in self.debtors if self._may_ever(channel)]
        hopeful.sort(key=lambda each: (each.id not in self.burning, self.alone[each.id] != ""))
        first = {channel.id for channel in hopeful[:MOST_TOGETHER]}
        return tuple(channel for channel in self.debtors if channel.id in first)

    @property
    def all_dimmed(self) -> DayPlan:
        """The day by the plan: every debtor is dimmed. It is always possible."""
        return replace(BY_PLAN, dimmed=frozenset(channel.id for channel in self.debtors))

    def only(self, id: str) -> dict[str, State]:
        """Return the states in which one debtor burns in and all others go by the plan."""
        return {channel.id: State.DIMMED for channel in self.debtors} | {id: State.FULL}

    def _may_ever(self, channel: WeighedChannel) -> bool:
        """Return False if a channel can't burn in whatever the others do."""
        if channel.window is None or channel.full is None:
            return False
        most = float(channel.full.max())
        return all(
            limit.ppfd_max is None or channel.most_in(zone) * most <= limit.ppfd_max * (1 + SLACK)
            for zone, limit in self.limits.items()
        )


@dataclass(frozen=True, slots=True)
class Assignment:
    """A state for each contender, and how good it is before its plan is known: less is better.

    ``merit`` counts the dimmed; those that go on burning in and days paid, both negative.
    """

    states: Mapping[str, State]
    merit: tuple[float, ...]
    dark: int


def assignments(day: WeighedDay) -> list[Assignment]:
    """Return all ways in which the contenders of a day can be full, dark or dimmed, best first."""
    found = []
    for states in itertools.product(State, repeat=len(day.contenders)):
        if State.DARK in states and State.FULL not in states:
            continue  # to stay dark for days on end while nobody burns in helps no tube
        chosen = dict(zip((channel.id for channel in day.contenders), states, strict=True))
        paid = sum(each.owed_days for each in day.contenders if chosen[each.id] is State.FULL)
        goes_on = sum(chosen.get(id) is State.FULL for id in day.burning)
        merit = (states.count(State.DIMMED), -goes_on, -paid)
        found.append(Assignment(chosen, merit, states.count(State.DARK)))
    found.sort(key=lambda each: (each.merit, each.dark))
    return found


def possible_plans(day: WeighedDay) -> Iterator[DayPlan]:
    """Yield the plans of a day that keep limits and doses, the best first.

    Plans are made as they are asked for: one that is ready waits only until no assignment that is
    left can be better.
    """
    by_plan = {channel.id: State.DIMMED for channel in day.debtors}
    waiting: list[tuple[tuple[float, ...], int, DayPlan]] = []
    for number, each in enumerate(assignments(day)):
        while waiting and waiting[0][0] <= (*each.merit, 0, 0, each.dark):
            yield heapq.heappop(waiting)[2]
        plan, _ = judge(day, by_plan | dict(each.states))
        if plan is not None:
            score = (*each.merit, len(plan.scale), len(plan.outside), each.dark)
            heapq.heappush(waiting, (score, number, plan))
    while waiting:
        yield heapq.heappop(waiting)[2]


def explained(day: WeighedDay, plan: DayPlan, refused: Mapping[str, str]) -> DayPlan:
    """Return a plan that says of each channel that waits why it does.

    Parameters
    ----------
    day : WeighedDay
        The day.
    plan : DayPlan
        The plan that is chosen.
    refused : mapping of channel to str
        Why the tables of a day on which it burns in alone can't be used; empty if they can.
    """
    first = and_list([f"'{id}'" for id in plan.windows])
    reasons = {
        id: day.alone[id]
        or refused.get(id, "")
        or (f"{first} burns in first" if len(plan.windows) == 1 else f"{first} burn in first")
        for id in sorted(plan.dark | plan.dimmed)
    }
    return replace(plan, reasons=reasons)


def judge(day: WeighedDay, states: Mapping[str, State]) -> tuple[DayPlan | None, str]:
    """Return the plan of a day with some states, or None and why it is not possible."""
    by_plan = tuple(
        each for each in day.channels if states.get(each.id, State.DIMMED) is State.DIMMED
    )
    windows, outside = place_windows(day, states, by_plan)
    if windows is None:
        return None, TOO_LONG
    full = {
        channel.id: day.moved_light(channel, windows[channel.id])
        for channel in day.channels
        if channel.id in windows
    }
    scale, why = give_way(day, by_plan, full)
    if scale is None:
        return None, why
    why = _dose_fault(day, by_plan, full, scale)
    if why:
        return None, why
    plan = DayPlan(
        windows=windows,
        dark=frozenset(id for id, state in states.items() if state is State.DARK),
        dimmed=frozenset(id for id, state in states.items() if state is State.DIMMED),
        scale=scale,
        outside=outside,
        reasons={},
    )
    return plan, ""


def place_windows(
    day: WeighedDay, states: Mapping[str, State], by_plan: tuple[WeighedChannel, ...]
) -> tuple[dict[str, Window] | None, frozenset[str]]:
    """Return the windows of the channels at full, and those that no other light surrounds.

    None if a window is longer than its channel's own day by the plan.
    """
    windows, outside = {}, set()
    for channel in day.channels:
        if states.get(channel.id) is not State.FULL or channel.window is None:
            continue
        placed = day.place(channel, by_plan)
        if placed is None:
            return None, frozenset()
        windows[channel.id] = placed.window
        if placed.is_outside:
            outside.add(channel.id)
    return windows, frozenset(outside)


def give_way(
    day: WeighedDay, by_plan: Sequence[WeighedChannel], full: Mapping[str, Moments]
) -> tuple[dict[str, Floats] | None, str]:
    """Return what is left of the light of the channels that give way to those at full.

    None, and why, if giving way is not allowed or not enough. By channel, shape (1440,). [fraction]
    """
    scale: dict[str, Floats] = {}
    for zone, limit in day.limits.items():
        if limit.ppfd_max is None:
            continue
        burning = _burning(day, zone, full)
        if burning.max() > limit.ppfd_max * (1 + SLACK):
            return None, ppfd_fault(zone, float(burning.max()), limit.ppfd_max)
        rest = zone_ppfd(((each.most_in(zone), each.light.most) for each in by_plan), NO_LIGHT)
        most = limit.ppfd_max * (1 - GIVE_WAY_SHARE)
        over = (burning > 0) & (burning + rest > most)
        if not over.any():
            continue
        left = np.ones_like(rest)
        dimmable = over & (rest > 0)  # where nothing else is lit nothing can give way
        left[dimmable] = np.maximum(most - burning[dimmable], 0.0) / rest[dimmable]
        left = np.floor(left / GIVE_WAY_STEP + SLACK) * GIVE_WAY_STEP
        for each in by_plan:
            is_lit = each.least > 0 or bool((each.light.most[left < 1.0] > 0).any())
            if each.most_in(zone) > 0 and is_lit:  # what is dark then has nothing to give
                scale[each.id] = np.minimum(scale.get(each.id, left), left)
    for each in by_plan:
        if each.id in scale and each.must_not_dim:
            return None, (
                f"'{each.id}' would have to give way, and owes burn-in itself; it can burn in when"
                f" '{each.id}' has paid"
            )
    why = _over_at_the_floor(day, by_plan, full, scale)
    return (None, why) if why else (scale, "")


def ppfd_fault(zone: str, ppfd: float, ppfd_max: float, source: str = "", because: str = "") -> str:
    """Return in words that a zone would get more than its limit [µmol m⁻² s⁻¹], and what would help.

    ``source`` says from what, and ``because`` why.
    """
    less_percent = math.ceil((1 - ppfd_max / ppfd) * 100 - SLACK)
    return (
        f"zone '{zone}' would get {number_text(ppfd, 1)} µmol m⁻² s⁻¹{source and ' ' + source},"
        f" over its ppfd_max of {ppfd_max:g}{because and ', ' + because}; it can burn in if the lamps give"
        f" {less_percent} % less there (shade the zone, or raise the lamps), or if its animals bear that"
        " light and `ppfd_max` may be higher"
    )


def dose_fault(zone: str, dose: float, limit: Limits, because: str = "") -> str:
    """Return in words how a dose is outside a zone's limits, and what would help; empty if it is not.

    ``dose`` is in mol m⁻² d⁻¹; ``because`` says why there is less than by the plan.
    """
    if dose < limit.dose_min * (1 - SLACK):
        side, bound, whose = "less", limit.dose_min, limit.dose_min_of
    elif dose > limit.dose_max * (1 + SLACK):
        side, bound, whose, because = "more", limit.dose_max, limit.dose_max_of, ""
    else:
        return ""
    decimals = 2 if number_text(dose) != number_text(bound) else 4
    return (
        f"zone '{zone}' would get a DLI of {number_text(dose, decimals)} mol m⁻² d⁻¹, {side} than"
        f" {number_text(bound, decimals)} ({whose}){because and ', ' + because}; it can burn in if its"
        " animals bear that dose and it is inside `dli`"
    )


def because_of_giving_way(giving: Iterable[str], at_full: Iterable[str]) -> str:
    """Return in words why a day at full may give less than the plan; empty where nobody gives way."""
    gives, full = (and_list([f"'{id}'" for id in ids]) for ids in (giving, at_full))
    if not gives:
        return ""
    return f"because {gives} must give way while {full} at full would lift a zone over its ppfd_max"


def _dose_fault(
    day: WeighedDay,
    by_plan: Sequence[WeighedChannel],
    full: Mapping[str, Moments],
    scale: Mapping[str, Floats],
) -> str:
    """Return in words which zone's dose is outside its limits; empty if none is."""
    given = {each.id: float((each.light.mean * scale.get(each.id, 1.0)).sum()) for each in by_plan}
    given |= {id: float(light.mean.sum()) for id, light in full.items()}
    because = because_of_giving_way(scale, full)
    for zone, limit in day.limits.items():
        sources = ((each.ppfd.get(zone, 0.0), given.get(each.id, 0.0)) for each in day.channels)
        why = dose_fault(zone, zone_ppfd(sources, 0.0) * MOMENT_S / UMOL_PER_MOL, limit, because)
        if why:
            return why
    return ""


def _burning(day: WeighedDay, zone: str, full: Mapping[str, Moments]) -> Floats:
    """Return the PPFD that channels at full give a zone, minute by minute, shape (1440,)."""
    sources = ((each.most_in(zone), full[each.id].most) for each in day.channels if each.id in full)
    return zone_ppfd(sources, NO_LIGHT)


def _over_at_the_floor(
    day: WeighedDay,
    by_plan: Sequence[WeighedChannel],
    full: Mapping[str, Moments],
    scale: Mapping[str, Floats],
) -> str:
    """Return why giving way is not enough where lamps are never dark; empty if it is enough."""
    held = [each for each in by_plan if each.id in scale and each.least > 0]
    for zone, limit in day.limits.items():
        if limit.ppfd_max is None or not any(each.most_in(zone) > 0 for each in held):
            continue
        burning = _burning(day, zone, full)
        kept = (
            (
                each.most_in(zone),
                np.maximum(each.light.most * scale.get(each.id, 1.0), each.least),
            )
            for each in by_plan
        )
        total = zone_ppfd(kept, burning)
        most = float(total[burning > 0].max(initial=0.0))
        if most > limit.ppfd_max * (1 + SLACK):
            because = f"because '{held[0].id}' can't go below its floor"
            return ppfd_fault(zone, most, limit.ppfd_max, because=because)
    return ""
