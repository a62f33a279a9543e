"""Tubes over years as text: a line for each tube, how long light is held, and policies of replacement."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from photoperiod.program.model import Program
from photoperiod.report.costs import energy_lines, money
from photoperiod.text import and_list, columns, counted, number_text, range_text, safe, wrapped
from photoperiod.upkeep.comparison import PolicyOutcome, ZoneSwing
from photoperiod.upkeep.due import TubeForecast
from photoperiod.upkeep.policies import Policy

#: What stands under the policies.
NOTES = (
    "tubes: all that burn within the dates. days at full: dates on which some channel burns in undimmed.",
    "rise: the most by which a peak rises from one date to the next; at full it is that of a burn-in.",
)

#: Policies as people read them.
NAMES = {
    Policy.AS_WRITTEN: "as written",
    Policy.TOGETHER: "as written, near dates as one",
    Policy.AT_ONCE: "all at once",
    Policy.HALVES: "by halves",
    Policy.HALVES_APART: "by halves, a channel a week",
    Policy.HOURS: "by hours",
    Policy.LIGHT: "by measured light",
}


def render_tubes(
    program: Program,
    tubes: Sequence[TubeForecast],
    policies: Sequence[PolicyOutcome | tuple[Policy, str]],
    room: int | None = None,
) -> str:
    """Return tubes and policies as text.

    Parameters
    ----------
    program : Program
        The schedule as it is written, compiled for the dates.
    tubes : sequence of TubeForecast
        Its tubes.
    policies : sequence of PolicyOutcome or (Policy, str)
        What policies do, or why one can't be told.
    room : int or None
        How many columns a line may take; None if that is not known.
    """
    span = program.span
    assert span is not None
    lines = [safe(program.schedule.title), f"{span.first} to {span.last} ({span.days:,} dates)"]
    lines += ["", *_tubes(tubes, room), *_of_unknown_age(tubes, span.first)]
    lines += held_lines(program)
    if policies:
        lines += ["", *_policies(program, policies, room)]
    lines += energy_lines(program, room)
    return "\n".join(wrapped(line, room, "    ") for line in lines) + "\n"


def _tubes(tubes: Sequence[TubeForecast], room: int | None) -> list[str]:
    if not tubes:
        return ["the schedule has no tubes"]
    rows = [
        (
            each.tube.id,
            each.channel,
            f"{each.lit_hours_at_start:,.0f} to {each.lit_hours_at_end:,.0f}",
            _light(each),
            _due(each),
            "" if each.left_on is None else f"{each.left_on}",
        )
        for each in tubes
    ]
    head = ("tube", "channel", "lit h", "light %", "due", "leaves")
    if not any(row[-1] for row in rows):
        return columns(head[:-1], [row[:-1] for row in rows], room)
    return columns(head, rows, room)


def _of_unknown_age(tubes: Sequence[TubeForecast], first: dt.date) -> list[str]:
    """Return which tubes count as new only because nothing tells their age; empty if there are none."""
    ids = [each.tube.id for each in tubes if each.is_age_unknown]
    if not ids:
        return []
    return [
        "",
        f"{and_list(ids)}: age not told: counted as new from {first}. Write `fitted` or `lit_hours`, or use a"
        " ledger; else hours, light and due dates are too good for tubes that have burned.",
    ]


def _light(each: TubeForecast) -> str:
    if each.light_at_start is None or each.light_at_end is None:
        return "not told"
    return f"{each.light_at_start * 100:.0f} to {each.light_at_end * 100:.0f}"


def _due(each: TubeForecast) -> str:
    """Return when a tube is due, the first date first."""
    found = sorted((date, reason) for reason, date in each.due.items())
    return ", ".join(f"{date} by {reason}" for date, reason in found) or "not told"


def held_lines(program: Program) -> list[str]:
    """Return until when the light of channels is held."""
    lines = []
    for id, channel in program.schedule.channels.items():
        if channel.held_within is None:
            continue
        short = next((table for table in program.tables if id in table.short), None)
        within = f"{number_text(channel.held_within * 100)} %"
        most = max(table.channels[id].held for table in program.tables)
        if short is None or short.span is None:
            lines.append(
                f"{id}: light held within {within} on all dates; levels rise to"
                f" {number_text(most * 100, 1)} % of the plan's light"
            )
        else:
            lines.append(f"{id}: light held within {within} until {short.span.first}")
    return ["", *lines] if lines else []


def _policies(
    program: Program, policies: Sequence[PolicyOutcome | tuple[Policy, str]], room: int | None
) -> list[str]:
    costs = program.schedule.costs
    zones = list(program.schedule.zones)
    rows, not_told = [], []
    for each in policies:
        if isinstance(each, tuple):
            if each[0] is Policy.TOGETHER:
                continue  # nothing could be saved
            not_told.append(f"{NAMES[each[0]]}: not told, because {each[1]}")
            continue
        row = [NAMES[each.policy], str(each.tubes_used), str(each.fitting_dates), str(each.loads)]
        row.append(str(each.burn_in_days))
        for id in zones:
            row += _zone(each.zones[id])
        rows.append([*row, *([money(each.cost)] if costs else [])])
    head = ["policy", "tubes", "fitted on", "loads", "days at full"]
    head += [f"{what} {id}" for id in zones for what in ("DLI", "peak", "rise")]
    if costs:
        head.append(costs.currency)
    title = (
        f"POLICIES OF REPLACEMENT, over {counted(program.span.days if program.span else 1, 'date')}"
    )
    lines = [title, *columns(head, rows, room), *NOTES]
    if costs and any(isinstance(each, PolicyOutcome) and each.cost is None for each in policies):
        lines.append(
            "cost: tubes, work and power; give every tube a `price`, every ballast `watts`, and `tariff`"
        )
    return [*lines, *not_told]


def _zone(swing: ZoneSwing) -> list[str]:
    return [
        f"{range_text(swing.least_dli, swing.most_dli)} (+{number_text(swing.dli_swing * 100, 1)} %)",
        range_text(swing.least_peak, swing.most_peak, 0),
        f"{number_text(swing.rise * 100, 0)} %",
    ]
