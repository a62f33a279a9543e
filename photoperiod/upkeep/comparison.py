"""Policies of replacement compared: what each does to the light of zones, and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.hours import LedgerState
from photoperiod.upkeep.policies import (
    ALL_TOGETHER,
    Policy,
    Replacements,
    fitted_together,
    with_replacements,
)
from photoperiod.upkeep.power_use import power_use
from photoperiod.upkeep.tube_costs import tube_costs

#: Policies in the order in which they are told.
POLICIES = tuple(Policy)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSwing:
    """How the light of a zone goes up and down over the dates.

    ``rise`` is the largest rise of the peak from one date to the next [share], the others are in
    mol m⁻² d⁻¹ and µmol m⁻² s⁻¹.
    """

    least_dli: float
    most_dli: float
    least_peak: float
    most_peak: float
    rise: float

    @property
    def dli_swing(self) -> float:
        """How much more the brightest date gives than the darkest one. [share]"""
        return self.most_dli / self.least_dli - 1 if self.least_dli > 0 else 0.0

    @property
    def peak_swing(self) -> float:
        """The same of peaks. [share]"""
        return self.most_peak / self.least_peak - 1 if self.least_peak > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyOutcome:
    """What a policy does over the dates.

    Parameters
    ----------
    tubes_at_start, tubes_fitted : int
        Tubes that were in their places before the first date, and those that are fitted from then on.
    fitting_dates : int
        On how many dates tubes are fitted.
    loads : int
        How often the controller's tables are loaded, by hand or from a file.
    burn_in_days : int
        Dates on which some channel runs undimmed.
    dimmed_hours : float
        Hours in which tubes that owe burn-in were dimmed, of all tubes. [h]
    tube_cost, labour_cost, power_cost : float or None
        In the currency of the costs; None where a price is not told.
    zones : mapping of zone to ZoneSwing
        The light of each zone.
    """

    policy: Policy
    tubes_at_start: int
    tubes_fitted: int
    fitting_dates: int
    loads: int
    burn_in_days: int
    dimmed_hours: float
    tube_cost: float | None
    labour_cost: float | None
    power_cost: float | None
    zones: dict[str, ZoneSwing]

    @property
    def tubes_used(self) -> int:
        """Tubes that burn within the dates."""
        return self.tubes_at_start + self.tubes_fitted

    @property
    def cost(self) -> float | None:
        """Of tubes, power, and the work if that is told; None where tubes or power are not."""
        if self.tube_cost is None or self.power_cost is None:
            return None
        return self.tube_cost + self.power_cost + (self.labour_cost or 0.0)


def compared(
    program: Program, sequence: DaySequence, ledger: LedgerState | None = None
) -> Iterator[PolicyOutcome | tuple[Policy, str]]:
    """Yield what each policy does, or why it can't be told.

    Parameters
    ----------
    program : Program
        The schedule as it is written, compiled for the dates.
    sequence : DaySequence
        Its day types: each day is fitted once for all policies.
    ledger : LedgerState or None
        What is known as the first date begins.
    """
    yield outcome(Policy.AS_WRITTEN, program)
    replacements = Replacements(program)
    for policy in POLICIES[1:]:
        schedule = _schedule(policy, replacements)
        if isinstance(schedule, str):
            yield policy, schedule
            continue
        tried = compile_program(
            schedule, program.span, ledger, sequence=sequence.with_tubes(schedule)
        )
        yield outcome(policy, tried)


def _schedule(policy: Policy, replacements: Replacements) -> Schedule | str:
    """Return the schedule that follows a policy; or why there is none, in words."""
    schedule, span = replacements.program.schedule, replacements.span
    if policy is Policy.TOGETHER:
        return fitted_together(schedule, span.first, span.last) or ALL_TOGETHER
    dates = replacements.of(policy)
    if isinstance(dates, str):
        return dates
    return with_replacements(schedule, span.first, dates)


def outcome(policy: Policy, program: Program) -> PolicyOutcome:
    """Return what a program that follows a policy does."""
    assert program.span is not None
    costs, bought = program.schedule.costs, tube_costs(program)
    fitted = [tube.fitted.date() for tube in bought.fitted if tube.fitted is not None]
    dimmed_s = sum(run.length_s for use in program.tubes.values() for run in use.hours.dimmed)
    use = power_use(program)
    return PolicyOutcome(
        policy=policy,
        tubes_at_start=sum(each.is_fitted for each in program.tubes.values()) - len(fitted),
        tubes_fitted=len(fitted),
        fitting_dates=len(set(fitted)),
        loads=len(program.loads),
        burn_in_days=sum(
            table.span.days for table in program.tables if table.plan.windows and table.span
        ),
        dimmed_hours=dimmed_s / 3600,
        tube_cost=None if costs is None else bought.total,
        labour_cost=_labour_cost(program),
        power_cost=None if use.unknown else use.total.cost,
        zones={id: _swing(program, id) for id in program.zones},
    )


def _labour_cost(program: Program) -> float | None:
    """Return what it costs to fit the tubes of a program; None if labour is not told. [currency]"""
    costs = program.schedule.costs
    if costs is None or costs.labour is None:
        return None
    fitted = tube_costs(program).fitted
    dates = {tube.fitted.date() for tube in fitted if tube.fitted is not None}
    return len(dates) * costs.labour.each_date + len(fitted) * costs.labour.each_tube


def _swing(program: Program, id: str) -> ZoneSwing:
    days = [table.zones[id] for table in program.tables]
    doses = [dose for z in days for dose in (z.dli.replay, z.dli_at_end)]
    peaks = [peak for z in days for peak in (z.peak_ppfd, z.peak_ppfd_at_end)]
    rises = [
        after.peak_ppfd / before.peak_ppfd_at_end - 1
        for before, after in pairwise(days)
        if before.peak_ppfd_at_end > 0
    ]
    return ZoneSwing(
        least_dli=min(doses),
        most_dli=max(doses),
        least_peak=min(peaks),
        most_peak=max(peaks),
        rise=max([0.0, *rises]),
    )
