"""A tube or a ballast is out, and zones get less."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import CompiledDay, Role
from photoperiod.program.model import Program, Table
from photoperiod.program.part_losses import PartLosses
from photoperiod.program.scaled_day import scaled_day, scaled_schedule
from photoperiod.schedule.changes import BallastThen, PartOut
from photoperiod.text import and_list, number_text

#: Factors are told in these steps.
FACTOR_STEP = 0.01

#: So many factors are tried: rows and levels may give a little more than is asked of them.
MOST_FACTORS = 6

#: Doses that differ by less are the same [share].
SAME_DOSE = 0.005


@dataclass(frozen=True, slots=True)
class _Loss:
    """A part that is out, the first table without it, and the doses of zones with it and without it."""

    part: PartOut
    table: Table
    given: Mapping[str, float]
    whole: Mapping[str, float]


def part_is_out(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each part that is out on some of the dates.

    It tells what zones still get, what the other channels can make up within the limits of all zones,
    what to load, and what to buy.
    """
    losses = PartLosses(program.schedule)
    for index, change in enumerate(program.schedule.changes):
        if not isinstance(change, PartOut):
            continue
        loss = _loss(program, losses, change)
        if loss is None or loss.table.span is None:
            continue
        channel = program.schedule.channels[change.channel]
        left = number_text(losses.left_of(channel, loss.table.span.first) * 100)
        zones = [
            f"zone '{id}' gets a DLI of {number_text(loss.given[id])} mol m⁻² d⁻¹ instead of"
            f" {number_text(whole)}"
            for id, whole in loss.whole.items()
            if loss.given[id] < whole * (1 - SAME_DOSE)
        ]
        lost = "; ".join(zones) or "no zone gets less"
        yield on_value(
            "PHO443",
            ("changes", index, "from_date"),
            f"with {_part_words(change)} out, channel '{channel.id}' gives {left} % of its light from"
            f" {loss.table.span.first} on{_ballast_words(program, change)}: {lost}",
            help=f"tables stay as they are, nothing is loaded for it; {_made_up(program, loss)};"
            f" {_to_buy(program, change)}. Unplug before you change it",
        )


def _loss(program: Program, losses: PartLosses, part: PartOut) -> _Loss | None:
    """Return what is lost with a part on the first of the dates on which it is out; None if there is none."""
    last = losses.last(part) or dt.date.max
    for table in program.tables:
        if table.span is None or not part.first <= table.span.first <= last:
            continue
        doses = losses.doses(part, table, program.tables)
        given = {id: dose.given for id, dose in doses.items()}
        whole = {id: dose.without for id, dose in doses.items()}
        return _Loss(part, table, given, whole)
    return None


def _part_words(part: PartOut) -> str:
    if part.tube:
        return f"tube '{part.tube}'"
    return "a ballast" if part.ballasts == 1 else f"{part.ballasts} ballasts"


def _ballast_words(program: Program, part: PartOut) -> str:
    """Return what the ballast of a tube does; empty for a ballast."""
    if not part.tube:
        return ""
    if part.ballast is BallastThen.STOPS:
        return ", as its ballast stops"
    return ", if its ballast goes on: some stop when half of a pair is out"


def _made_up(program: Program, loss: _Loss) -> str:
    """Return in words what the others can make up, tried on tables."""
    others = [
        id
        for id, channel in program.schedule.channels.items()
        if id != loss.part.channel
        and channel.day is not None
        and any(
            channel.full_ppfd.get(zone) and loss.given[zone] < whole * (1 - SAME_DOSE)
            for zone, whole in loss.whole.items()
        )
    ]
    if not others:
        return "no other channel lights these zones"
    is_plain = all(c.role is Role.PLAN for c in loss.table.channels.values())
    if not is_plain or loss.table.season is not None or _is_changed(program, loss.table):
        return "what the others can make up is told on dates that go by the plan"
    names = and_list([f"'{id}'" for id in others])
    factor = _first_factor(loss, others)
    for _ in range(MOST_FACTORS):
        if factor < 1 + FACTOR_STEP / 2:
            break
        changed = scaled_schedule(program.schedule, factor, others)
        day = scaled_day(changed, loss.table, others)
        if day is not None and _keeps(day, loss):
            doses = and_list(
                [
                    f"'{id}' then gets {number_text(day.zones[id].dli.replay)}"
                    for id, whole in loss.whole.items()
                    if loss.given[id] < whole * (1 - SAME_DOSE)
                ]
            )
            return (
                f"the others can make up some of it: multiply the light of {names} by"
                f" {number_text(factor)}, slowly, and load that: {doses}. Tried, and it keeps all limits"
            )
        factor = round(1 + (factor - 1) * 0.75, 2)
    return f"{names} can't make it up within the limits of the zones and of their outputs"


def _first_factor(loss: _Loss, others: list[str]) -> float:
    """Return the factor at which no zone gets more than it may, and no output more than it has."""
    channels = loss.table.channels
    most = min(channels[id].path.most_light / max(channels[id].wanted_peak, 1e-9) for id in others)
    for zone in loss.whole:
        share = sum(channels[id].dli[zone].replay for id in others if zone in channels[id].dli)
        if share > 0:
            most = min(most, 1 + max(_most_dose(loss, zone) - loss.given[zone], 0.0) / share)
    return int(most / FACTOR_STEP + 1e-9) * FACTOR_STEP


def _keeps(day: CompiledDay, loss: _Loss) -> bool:
    """Return whether no zone leaves its limits, or gets more than it may."""
    for id, zone in day.zones.items():
        limit = zone.zone.ppfd_max
        if (
            limit is not None
            and zone.peak_ppfd > max(limit, loss.table.zones[id].peak_ppfd) + PPFD_SLACK
        ):
            return False
        before = loss.table.zones[id]
        if zone.peak_ppfd > before.peak_ppfd * (1 + zone.zone.peak_rise_max) + PPFD_SLACK:
            return False
        if zone.dli.replay > _most_dose(loss, id) * (1 + SAME_DOSE):
            return False
        most = zone.zone.ppfd_rise_per_minute_max
        if most is not None and zone.steepest_rise_per_minute > max(
            most, before.steepest_rise_per_minute
        ):
            return False
    return True


def _most_dose(loss: _Loss, zone: str) -> float:
    """Return what a zone may get: what it got before; one that lost nothing, up to its band. [mol m⁻² d⁻¹]"""
    whole, band = loss.whole[zone], loss.table.zones[zone].zone.dli_band
    has_lost = loss.given[zone] < whole * (1 - SAME_DOSE)
    return whole if has_lost or band is None else max(whole, band[1])


def _is_changed(program: Program, table: Table) -> bool:
    """Return whether some other change acts on the dates of a table."""
    return any(
        table.span is not None and each.first <= table.span.last and table.span.first <= each.last
        for each in program.effects
        if not isinstance(each.change, PartOut)
    )


def _to_buy(program: Program, part: PartOut) -> str:
    if part.tube:
        tube = program.schedule.tubes[part.tube]
        return (
            f"a tube of {number_text(tube.watts)} W like it is needed; write it with `fitted` and the same"
            " `place`"
        )
    kind = program.schedule.channels[part.channel].ballast
    count = "a ballast" if part.ballasts == 1 else f"{part.ballasts} ballasts"
    return f"{count} of the kind '{kind.id}' {'is' if part.ballasts == 1 else 'are'} needed"
