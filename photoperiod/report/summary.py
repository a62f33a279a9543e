"""The summary of a program for a person, in plain columns."""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program, Table
from photoperiod.schedule.guards import unknown_in
from photoperiod.setpoints.fit import Certificate, Method
from photoperiod.sky.clock import ClockChange
from photoperiod.text import clock_text, hours_text, number_text, safe, width
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S, SECONDS_PER_DAY, SECONDS_PER_HOUR

#: If there are more tables, each gets one line instead of a section.
MOST_SHOWN = 6


def render_summary(program: Program, findings: Sequence[Diagnostic]) -> str:
    """Return the summary as text: channels, zones, loads, tubes, and the findings that are accepted.

    ``findings`` are those of the compiled schedule; only accepted ones are shown.
    """
    schedule, span = program.schedule, program.span
    lines = [safe(schedule.title)]
    if span is None:
        lines.append("one day without a date; tubes are followed only with dates")
    else:
        days = "1 date" if span.days == 1 else f"{span.days} dates"
        lines.append(
            f"{span.first} to {span.last} ({days}), times on the controller's clock"
            f" ({schedule.controller.clock}); "
            + (
                f"one table for all of them, load it before {span.first}"
                if len(program.controller_tables) == 1
                else f"{len(program.controller_tables)} tables, see the loads below"
            )
        )
    begins = {id(table.tables[0]) for table in program.controller_tables}
    for table in program.tables if len(program.tables) <= MOST_SHOWN else ():
        lines += ["", *_heading(program, table, is_new=id(table) in begins)]
        lines += _channels(program, table)
        if table.zones:
            lines += ["", *_zones(table)]
    if len(program.tables) > MOST_SHOWN:
        lines += ["", *_many(program)]
    if len(program.controller_tables) > 1:
        lines += ["", *_loads(program)]
    if program.clock_changes:
        lines += ["", *_clock_changes(program)]
    for name, (shown, nights, _) in program.moon_nights.items():
        lines += ["", f"{name} shows the moon on {shown} of {nights} dates that have one"]
    if program.tubes:
        lines += ["", *_tubes(program)]
    accepted = [d for d in findings if d.severity is Severity.ACCEPTED]
    if accepted:
        lines += ["", "ACCEPTED BY THE SCHEDULE"]
        lines += [
            f"  {d.name}: {safe(d.message)}; because: {safe(d.accepted or '')}" for d in accepted
        ]
    return "\n".join(lines) + "\n"


def columns(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Return a head and rows as lines of left-aligned columns, two blanks apart."""
    everything = [list(head), *(list(row) for row in rows)]
    widths = [max(width(row[i]) for row in everything) for i in range(len(head))]
    return [
        "  ".join(cell + " " * (widths[i] - width(cell)) for i, cell in enumerate(row)).rstrip()
        for row in everything
    ]


def _heading(program: Program, table: Table, *, is_new: bool) -> list[str]:
    """Return lines on the dates of a table, on burn-in and clocks; none if it is the only, plain table."""
    is_plain = not table.plan.windows and not table.plan.dark
    if len(program.tables) == 1 and is_plain and table.day.length_s == SECONDS_PER_DAY:
        return []
    span = table.span
    lines = []
    if span is not None:
        what = "TABLE" if is_new else "THE SAME TABLE"
        lines.append(f"{what} FROM {span.first} TO {span.last}")
        if table.day.length_s != SECONDS_PER_DAY:
            hours = number_text(table.day.length_s / SECONDS_PER_HOUR)
            lines.append(
                f"the clock changes on this date: doses are those of the {hours} h that pass"
            )
    for id, (start, stop) in table.plan.windows.items():
        begin, end = clock_text(start % SECONDS_PER_DAY), clock_text(stop % SECONDS_PER_DAY)
        lines.append(f"{id} burns in: at full from {begin} to {end}, dark otherwise")
    for id in sorted(table.plan.dark):
        lines.append(f"{id} waits for its burn-in, dark")
    if table.season is not None and table.span is not None and table.span.days > 1:
        lines.append(
            f"one table for {table.span.days} dates: light within"
            f" {number_text(table.season.light * 100, 1)} % of a channel's brightest and dose within"
            f" {number_text(table.season.dose * 100, 1)} % of each date's plan"
        )
    for id, c in table.channels.items():
        if c.role == "gives-way":
            lines.append(f"{id} gives way, so that no zone gets more than its limit")
    return lines


def _many(program: Program) -> list[str]:
    """Return one line for each table; ``summary.json`` holds the rest."""
    rows = []
    for table in program.tables:
        if table.span is None:
            continue
        season = table.season
        rows.append(
            (
                str(table.span.first),
                str(table.span.last),
                f"{number_text(season.light * 100, 1)} % ({season.light_of})" if season else "-",
                f"{number_text(season.dose * 100, 1)} % ({season.dose_of})" if season else "-",
                ", ".join(table.plan.windows) or "-",
                *(f"{z.dli.replay:.2f}" for z in table.zones.values()),
                *(f"{number_text(z.peak_ppfd, 1)}" for z in table.zones.values()),
            )
        )
    head = (
        "table from",
        "to",
        "light off by",
        "dose off by",
        "at full",
        *(f"DLI {id}" for id in program.schedule.zones),
        *(f"peak {id}" for id in program.schedule.zones),
    )
    return columns(head, rows)


def _clock_changes(program: Program) -> list[str]:
    """Return when clocks change."""
    differ = "" if program.schedule.has_one_clock else "; tables before and after differ"
    return [
        "CLOCK CHANGES",
        *(f"  {clock_change_text(name, change)}{differ}" for name, change in program.clock_changes),
    ]


def clock_change_text(name: str, change: ClockChange) -> str:
    """Return when a clock changes, and by how much."""
    minutes = (change.after_s - change.before_s) // 60
    way = "forward" if minutes > 0 else "back"
    return f"{change.at:%Y-%m-%d %H:%M} UTC: the {name}'s clock goes {way} by {abs(minutes)} min"


def _loads(program: Program) -> list[str]:
    """Return which tables to load on which date."""
    lines = ["LOADS"]
    for load in program.loads:
        first, last = load[0].span, load[-1].span
        if first and last:
            what = "1 table" if len(load) == 1 else f"{len(load)} tables"
            lines.append(f"  {load[0].load_by}: {what}, up to {last.last}")
    return lines


def _channels(program: Program, table: Table) -> list[str]:
    held = program.schedule.controller.setpoints_per_channel
    rows = []
    for id, c in table.channels.items():
        hours = c.full_light_hours
        rows.append(
            (
                id,
                f"{len(c.fit.rows)} of {held}",
                f"{number_text(c.fit.worst_light_error * 100, 1)} % at {clock_text(c.fit.worst_second)}",
                f"{hours.replay:.2f} ({hours.plan:.2f})",
                f"{hours_text(c.lit_seconds)} ({hours_text(c.reachable_lit_seconds)})",
                hours_text(c.longest_dark_s),
                str(c.starts),
                "-" if c.energy_kwh is None else f"{c.energy_kwh:.2f}",
            )
        )
    head = (
        "channel",
        "rows",
        "worst light error",
        "full-light h (plan)",
        "photoperiod (plan)",
        "longest dark",
        "starts",
        "kWh/day",
    )
    lines = columns(head, rows)
    if all(c.energy_kwh is None for c in table.channels.values()):
        lines = columns(head[:-1], [row[:-1] for row in rows])
    first = next(iter(table.channels.values())).fit.certificate
    if first.joint_error is not None:
        return [*lines, "", _joint_proof(first, held) + _not_closest(first), *_guards(table)]
    proof = [_proof(id, c, held) for id, c in table.channels.items()]
    return [*lines, "", *(line for line in proof if line), *_guards(table)]


def _proof(id: str, c: ChannelDay, held: int) -> str:
    """Return what is proven of a channel's table, in a sentence."""
    proof = c.fit.certificate
    if c.fit.method != "exact":
        how = {
            Method.COARSER_TIMES: "rows on a coarser grid of times",
            Method.BEST_FOUND: "rows of a search that ran out of work",
        }
        return (
            f"{id}: {how.get(c.fit.method, 'rows by line simplification')}; worst error"
            f" {number_text(proof.error * 100)} %, not proven to be the best; no table of {held} rows"
            f" has less than {number_text(proof.bound * 100)} %"
        )
    worst = number_text(proof.error * 100)
    bound = number_text(proof.bound * 100)
    text = (
        f"{id}: worst error {worst} % at samples {proof.sample_s} s apart; no table of {held} rows"
    )
    text += f" has less than {bound} %"
    text += _not_closest(proof)
    if proof.floor_rows is not None and len(c.fit.rows) >= proof.floor_rows:
        return text + f"; more than {proof.floor_rows} rows buy nothing"
    if proof.half_rows is not None:
        text += f"; {proof.half_rows} rows would halve it"
    if proof.floor_rows is not None:
        text += f"; more than {proof.floor_rows} rows buy nothing"
    return text


def _not_closest(proof: Certificate) -> str:
    """Return that the second objective was not searched to its end, nothing if it was."""
    if proof.is_closest:
        return ""
    return (
        "; which of the tables within 5 % of it is closest in the mean took too much work to find"
    )


def _guards(table: Table) -> list[str]:
    """Return what guard rows cost, a sentence for each channel that they cost a row."""
    return [
        f"{id}: a row of level 0 before the lamp lights keeps it at its floor if its relay is welded;"
        f" without it the worst error were {number_text(c.fit.error_without_guard * 100)} % at samples"
        for id, c in table.channels.items()
        if c.fit.error_without_guard is not None
    ]


def _joint_proof(proof: Certificate, held: int) -> str:
    """Return what is proven of all channels that share their times, in a sentence."""
    joint, bound = proof.joint_error or 0.0, proof.joint_bound or 0.0
    if joint == 0.0:
        text = f"all channels together: no number of rows does better at samples {proof.sample_s} s apart"
    else:
        text = (
            f"all channels together: worst error {number_text(joint * 100)} % of a channel's peak at"
            f" samples {proof.sample_s} s apart; no column of {held} times has less than"
            f" {number_text(bound * 100)} %"
        )
    if joint and proof.half_rows is not None:
        text += f"; {proof.half_rows} rows would halve it"
    if proof.floor_rows is not None:
        text += f"; more than {proof.floor_rows} rows buy nothing"
    return text


def _zones(table: Table) -> list[str]:
    rows = []
    for id, z in table.zones.items():
        band = z.zone.dli_band
        unknown = unknown_in(z.zone, (c.channel for c in table.channels.values()))
        limit = "-" if z.zone.ppfd_max is None else number_text(z.zone.ppfd_max)
        if unknown and z.zone.ppfd_max is not None:
            limit += " (not shown to be kept)"
        shares = ", ".join(
            f"{name} unknown" if name in unknown else f"{name} {c.dli[id].replay:.2f}"
            for name, c in table.channels.items()
        )
        rows.append(
            (
                id,
                f"{z.dli.replay:.2f} ({z.dli.plan:.2f})",
                "-" if band is None else f"{number_text(band[0])} to {number_text(band[1])}",
                f"{number_text(z.peak_ppfd, 1)} at {clock_text(z.peak_second)}",
                limit,
                hours_text(z.night_s),
                shares,
            )
        )
    head = (
        "zone",
        "DLI (plan) mol/m²",
        "band",
        "peak PPFD µmol/m²s",
        "limit",
        f"night below {NIGHT_PPFD_UMOL_M2_S}",
        "DLI by channel",
    )
    return columns(head, rows)


def _tubes(program: Program) -> list[str]:
    rows = []
    for id, t in program.tubes.items():
        ledger = t.hours
        if not t.is_fitted:
            state = "fitted after these dates"
        elif ledger.owed_hours > 0:
            state = f"still owes {number_text(ledger.owed_hours, 1)} h at full"
        elif ledger.paid_at is not None:
            state = f"paid on {ledger.paid_at:%Y-%m-%d at %H:%M}"
        else:
            state = "nothing owed"
        dimmed = sum(run.length_s for run in ledger.dimmed)
        if dimmed:
            state += f"; dimmed for {hours_text(dimmed)} while owing"
        rows.append((id, t.channel, f"{ledger.lit_hours:.1f}", state))
    return columns(("tube", "channel", "lit h", "burn-in"), rows)
