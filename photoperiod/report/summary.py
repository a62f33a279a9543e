"""The summary of a program for a person: doses first, then limits, nights, loads and channels."""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.loads import changed_channels, fittings, load_by
from photoperiod.program.model import ControllerTable, Program, Table
from photoperiod.report.changes import change_lines, first_date_line, found_beside_changes_line
from photoperiod.report.costs import energy_lines
from photoperiod.report.summary_details import table_details
from photoperiod.report.summary_seasons import (
    same_rows_lines,
    season_count_lines,
    season_errors,
    seasons_table,
)
from photoperiod.report.tubes import held_lines
from photoperiod.report.useful_light import useful_light_lines
from photoperiod.report.zone_colour import zone_colour_lines
from photoperiod.schedule.found_text import found_sentences
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Zone
from photoperiod.sky.clock import ClockChange
from photoperiod.text import (
    and_list,
    clock_text,
    columns,
    counted,
    hours_text,
    number_text,
    range_text,
    safe,
    wrapped,
)
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: If there are more tables, they are listed as seasons instead of a section each.
MOST_SHOWN = 6

#: If there are more loads, those of a month stand in one line.
MOST_LOADS_LISTED = 12

#: If a month has more loads, their days are not listed.
MOST_DAYS_LISTED = 6

#: Hours of a night that differ by less are the same [s].
NIGHT_SLACK_S = 1e-6


#: What stands above the light of zones, where each has a line.
ZONE_HEAD = ("zone", "DLI mol/m²", "dose", "peak µmol/m²s", "limit")

#: What a zone's numbers are of, where readings tell how its points differ.
OF_READINGS = "Of zones with readings: DLI is their mean, the peak that of the brightest point."


def render_summary(
    program: Program,
    findings: Sequence[Diagnostic],
    *,
    detail: bool = False,
    room: int | None = None,
) -> str:
    """Return the summary as text.

    Parameters
    ----------
    program : Program
        What was compiled.
    findings : sequence of Diagnostic
        Those of the compiled schedule; of them only the accepted ones are shown.
    detail : bool
        True to add the worst errors, proofs, roundings and doses by channel of each table.
    room : int or None
        How many columns a line may take; None if that is not known.
    """
    lines = [safe(program.schedule.title), _dates(program)]
    if program.schedule.zones:
        lines += ["", *_zones(program, findings, room), *useful_light_lines(program)]
        lines += zone_colour_lines(program)
        lines += found_beside_changes_line(program)
        lines += first_date_line(program)
    if program.schedule.found is not None:
        lines += ["", "FOUND", *(f"  {each}" for each in found_sentences(program.schedule.found))]
    if program.effects:
        lines += ["", *change_lines(program)]
    if program.span is not None:
        lines += ["", *load_lines(program)]
    is_many = len(program.tables) > MOST_SHOWN
    lines += _seasons(program, room) if is_many else _tables(program, room)
    counts = season_count_lines(program)
    lines += counts if is_many or not counts else ["", *counts]
    lines += held_lines(program) if is_many else []
    lines += energy_lines(program, room)
    if program.clock_changes:
        lines += ["", *_clock_changes(program)]
    for name, (shown, nights, _) in program.moon_nights.items():
        lines += [
            "",
            f"{name} shows half of the moon's light or more on {shown} of {nights} dates that have a moon",
        ]
    lines += _tubes(program, room, everything=detail)
    accepted = [d for d in findings if d.severity is Severity.ACCEPTED]
    if accepted:
        lines += ["", "ACCEPTED BY THE SCHEDULE"]
        lines += [
            f"  {d.name}: {safe(d.message)}; because: {safe(d.accepted or '')}" for d in accepted
        ]
    lines += [""]
    if detail:
        lines += _details(program, room)
    else:
        lines += ["`--detail` adds worst errors, proofs and the doses by channel"]
    return "\n".join(wrapped(line, room, "    ") for line in lines) + "\n"


def _dates(program: Program) -> str:
    span = program.span
    if span is None:
        return "one day without a date; tubes are followed only with dates"
    days = "1 date" if span.days == 1 else f"{span.days} dates"
    clock = program.schedule.controller.clock
    return f"{span.first} to {span.last} ({days}), times on the controller's clock ({clock})"


def zone_rows(program: Program, findings: Sequence[Diagnostic]) -> list[tuple[str, ...]]:
    """Return what each zone gets over all tables, in words.

    A row for each zone: its id, dose, the dose beside its band, peak, its limit, night.
    """
    not_shown = {d.path[1] for d in findings if d.name == "limit-not-shown" and len(d.path) > 1}
    rows: list[tuple[str, ...]] = []
    for id, zone in program.schedule.zones.items():
        days = [table.zones[id] for table in program.tables]
        doses = [dose for z in days for dose in (z.dli.replay, z.dli_at_end)]
        darkest = [dose for z in days for dose in (z.dli_least, z.dli_least_at_end)]
        unknown = unknown_in(zone, program.schedule.channels.values())
        dose = range_text(min(doses), max(doses))
        rows.append(
            (
                id,
                f"{dose} and that of {and_list(unknown)}" if unknown else dose,
                dose_words(zone, min(doses), max(doses), min(darkest)),
                number_text(max(z.peak_ppfd for z in days), 1),
                _limit_words(
                    zone,
                    max(z.peak_ppfd for z in days),
                    is_shown=not unknown and id not in not_shown,
                ),
                _night_words(zone, min(z.night_s for z in days)),
            )
        )
    return rows


def _zones(program: Program, findings: Sequence[Diagnostic], room: int | None) -> list[str]:
    """Return what each zone gets over all tables: dose, peak and night, each with its limit."""
    head = (*ZONE_HEAD, "night (needed)")
    has_spread = any(c.ppfd_spread for c in program.schedule.channels.values())
    rows = zone_rows(program, findings)
    return columns(head, rows, room) + ([OF_READINGS] if has_spread else []) + _beyond(program)


def _beyond(program: Program) -> list[str]:
    """Return a line on zones whose light lies beyond all readings at some points; none if none do."""
    beyond = program.schedule.beyond_readings
    zones = list(dict.fromkeys(zone for each in beyond.values() for zone in each))
    if not zones:
        return []
    return [
        f"BEYOND THE READINGS: at some points of {and_list(zones)} nothing was read, nor above or below;"
        f" the fall-off of {and_list(list(beyond))} is followed there"
    ]


def dose_words(zone: Zone, least: float, most: float, darkest: float) -> str:
    """Return where the doses of a zone are beside its band. [mol m⁻² d⁻¹]

    ``darkest`` is the least dose of its darkest place, other than ``least`` where readings tell it.
    """
    if zone.dli_band is None:
        return "no band"
    low, high = zone.dli_band
    band = f"{number_text(low)} to {number_text(high)}"
    if darkest < low <= least:
        also = " and above" if most > high else ""
        return f"below{also} {band}: {number_text(darkest)} in its darkest place"
    if least < low and most > high:
        return f"below and above {band}"
    if least < low:
        return f"{'below' if most < low else 'on some dates below'} {band}"
    if most > high:
        return f"{'above' if least > high else 'on some dates above'} {band}"
    return f"inside {band}"


def _limit_words(zone: Zone, peak: float, *, is_shown: bool) -> str:
    """Return what becomes of a zone's `ppfd_max` [µmol m⁻² s⁻¹]."""
    if zone.ppfd_max is None:
        return "none"
    limit = number_text(zone.ppfd_max)
    if peak > zone.ppfd_max + PPFD_SLACK:
        return f"{limit} passed"
    return f"{limit} kept" if is_shown else f"{limit} not shown to be kept"


def _night_words(zone: Zone, night_s: float) -> str:
    """Return the shortest night of a zone beside what it needs."""
    is_short = night_s < zone.dark_hours_min * SECONDS_PER_HOUR - NIGHT_SLACK_S
    needed = f"({number_text(zone.dark_hours_min)} h)"
    return f"{hours_text(night_s)}{', too short' if is_short else ''} {needed}"


def load_lines(program: Program) -> list[str]:
    """Return which tables to load on which date, and which tubes to fit then."""
    loads = program.loads
    lines = ["LOADS"]
    if len(loads) <= MOST_LOADS_LISTED:
        for before, load in zip((None, *loads), loads, strict=False):
            lines.append(f"  {_load_words(load, before)}")
            lines += [f"    {each.words}" for each in fittings(program, load)]
        return lines
    months: dict[str, list[str]] = {}
    for load in loads:
        if load[0].span:
            months.setdefault(f"{load[0].span.first:%Y-%m}", []).append(f"{load[0].span.first:%d}")
    if len(months) <= MOST_LOADS_LISTED:
        lines += [f"  {month}: {_days_words(days)}" for month, days in months.items()]
    else:
        lines += [f"  {len(loads)} in {len(months)} months; the typing sheets name the dates"]
    lines += [f"  {each.words}" for load in loads for each in fittings(program, load)]
    return lines


def _days_words(days: Sequence[str]) -> str:
    """Return how many loads a month has and on which of its days, unless they are many."""
    if len(days) > MOST_DAYS_LISTED:
        return f"{len(days)} loads; the typing sheets name the dates"
    return f"{counted(len(days), 'load')}, on {and_list(days)}"


def _load_words(load: Sequence[ControllerTable], before: Sequence[ControllerTable] | None) -> str:
    """Return when to load some tables, how many they are, and up to when they hold."""
    last = load[-1].span
    what = "1 table" if len(load) == 1 else f"{len(load)} tables"
    when = load_by(load[0], before[-1] if before else None)
    return f"{when}: {what}, up to {last.last if last else ''}"


def _seasons(program: Program, room: int | None) -> list[str]:
    """Return many tables as a few lines, and how far the worst of them is off."""
    lines = ["", *seasons_table(program, room), *same_rows_lines(program)]
    worst = season_errors(program.tables)
    if worst is not None:
        lines += ["", _season_words(worst[0].light, worst[1].dose, "each table gives")]
    return lines


def _tables(program: Program, room: int | None) -> list[str]:
    """Return a section for each table, with the channels that it changes."""
    lines: list[str] = []
    before: Table | None = None
    for table in program.tables:
        changed = tuple(table.channels) if before is None else changed_channels(table, before)
        if changed:
            named = "" if before is None else f": {and_list(changed)} {_change(changed)}"
            lines += ["", *_heading(program, table, named)]
            lines += _channels(program, table, changed, room)
        before = table
    return lines


def _change(changed: Sequence[str]) -> str:
    return "changes" if len(changed) == 1 else "change"


def _heading(program: Program, table: Table, named: str) -> list[str]:
    """Return lines on the dates of a table, on burn-in and clocks; none if it is the only, plain table."""
    span = table.span
    is_plain = not table.plan.windows and not table.plan.dark
    lines = []
    if span is not None and (len(program.tables) > 1 or not is_plain):
        lines.append(f"TABLE FROM {span.first} TO {span.last}{named}")
    return lines + table_notes(table)


def table_notes(table: Table) -> list[str]:
    """Return what is special about a table, in lines: the length of its day, burn-in, seasons."""
    lines = []
    if table.day.length_s != SECONDS_PER_DAY:
        hours = number_text(table.day.length_s / SECONDS_PER_HOUR)
        lines.append(f"the clock changes on this date: doses are those of the {hours} h that pass")
    for id, (start, stop) in table.plan.windows.items():
        begin, end = clock_text(start % SECONDS_PER_DAY), clock_text(stop % SECONDS_PER_DAY)
        lines.append(f"{id} burns in: at full from {begin} to {end}, dark otherwise")
    for id in sorted(table.plan.dark):
        lines.append(f"{id} waits for its burn-in, dark")
    if table.season is not None and table.span is not None and table.span.days > 1:
        what = f"one table for {table.span.days} dates:"
        lines.append(_season_words(table.season.light, table.season.dose, what))
    lines += fade_notes(table)
    for id, c in table.channels.items():
        if c.role == "gives-way":
            lines.append(f"{id} gives way, so that no zone gets more than its limit")
    return lines


def fade_notes(table: Table) -> list[str]:
    """Return how the light of channels is held, or can't be, in lines."""
    lines = []
    for id, c in table.channels.items():
        if c.channel.held_within is None or c.role in ("full", "dark"):
            continue
        raised = f"{number_text(c.held * 100, 1)} % of its plan's light"
        now = f"{number_text(c.brightness * 100, 1)} %"
        lines.append(f"{id} gives {raised}, because its tubes give {now} of what was measured")
        if id in table.short:
            least = number_text(c.held * c.brightness_at_end * 100, 1)
            lines.append(f"{id} can't be held: its dose falls to {least} % of the plan's")
    return lines


def _season_words(light: float, dose: float, what: str) -> str:
    """Return how far tables may be from the plans of their dates, in a sentence. [share]"""
    return (
        f"{what} light within {number_text(light * 100, 1)} % of a channel's brightest and dose within"
        f" {number_text(dose * 100, 1)} % of each date's plan"
    )


def _channels(program: Program, table: Table, ids: Sequence[str], room: int | None) -> list[str]:
    """Return the light, the night and the rows of some channels."""
    held = program.schedule.controller.setpoints_per_channel
    shows_energy = any(c.energy_kwh is not None for c in table.channels.values())
    rows = []
    for id in ids:
        c = table.channels[id]
        hours = c.full_light_hours
        row = [
            id,
            f"{hours.replay:.2f} ({hours.plan:.2f})",
            hours_text(c.lit_seconds),
            hours_text(c.longest_dark_s),
            f"{len(c.fit.rows)} of {held}",
        ]
        if shows_energy:
            row.append("-" if c.energy_kwh is None else f"{c.energy_kwh:.2f}")
        rows.append(row)
    head = ["channel", "full-light h (plan)", "photoperiod", "longest dark", "rows"]
    return columns([*head, "kWh/day"] if shows_energy else head, rows, room)


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


def _tubes(program: Program, room: int | None, *, everything: bool) -> list[str]:
    """Return the hours of tubes: of those with a burn-in, or of all."""
    rows = []
    for id, t in program.tubes.items():
        hours = t.hours
        if not t.is_fitted:
            state = "fitted after these dates"
        elif hours.owed_hours > 0:
            state = f"still owes {number_text(hours.owed_hours, 1)} h at full"
        elif hours.paid_at is not None:
            state = f"paid on {hours.paid_at:%Y-%m-%d at %H:%M}"
        elif everything:
            state = "nothing owed"
        else:
            continue
        dimmed = sum(run.length_s for run in hours.dimmed)
        if dimmed:
            state += f"; dimmed for {hours_text(dimmed)} while owing"
        rows.append((id, t.channel, f"{hours.lit_hours:.1f}", state))
    return ["", *columns(("tube", "channel", "lit h", "burn-in"), rows, room)] if rows else []


def _details(program: Program, room: int | None) -> list[str]:
    """Return the details of all tables; of many, only of those that differ from the one before."""
    lines = ["DETAILS"]
    begins = {table.tables[0].span for table in program.controller_tables}
    is_many = len(program.tables) > MOST_SHOWN
    if is_many:
        lines += seasons_table(program, room, by_table=True)
        lines += ["", "the proofs of so many tables stand in `summary.json`"]
    for table in () if is_many else program.tables:
        if len(program.tables) > 1 and table.span:
            what = "TABLE" if table.span in begins else "THE SAME TABLE"
            lines += ["", f"{what} FROM {table.span.first} TO {table.span.last}"]
            lines += table_notes(table)
        lines += table_details(program, table, room)
    return lines
