"""What the page of a tank holds: every picture, every sentence, in the order in which they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Report
from photoperiod.diagnostics.unguarded import unguarded_line
from photoperiod.formats.cautions import CAUTIONS
from photoperiod.formats.row_text import MADE_WITH
from photoperiod.page.agenda import ListedErrand, agenda_figure, listed
from photoperiod.page.cost import cost_figure, cost_words
from photoperiod.page.day import day_figure
from photoperiod.page.dose import LOWER, ZoneDose, zone_doses
from photoperiod.page.figure import Figure
from photoperiod.page.findings import ShownFinding, shown_findings
from photoperiod.page.fit import fit_figure
from photoperiod.page.hatches import hatches_of
from photoperiod.page.land import land_figure, landed
from photoperiod.page.sheet import NEVER_TOUCH, NOT_NORMAL, Sheet, sheet_of
from photoperiod.page.shown import ShownTable, dates_text, shown_tables
from photoperiod.page.strips import strips_figure
from photoperiod.page.tubes import tubes_figure
from photoperiod.page.year import year_figure
from photoperiod.program.model import Program
from photoperiod.report.changes import change_lines, found_beside_changes_line
from photoperiod.report.summary import table_notes
from photoperiod.report.summary_details import proofs
from photoperiod.report.text import not_checked_line
from photoperiod.report.tubes import held_lines
from photoperiod.report.useful_light import useful_light_lines
from photoperiod.report.zone_colour import zone_colour_lines
from photoperiod.schedule.found_text import found_sentences
from photoperiod.schedule.model import Schedule
from photoperiod.sky.clock import ZONE_DATA
from photoperiod.text import and_list, counted, safe

#: More dates than this are called a year.
YEAR_DAYS = 300


@dataclass(frozen=True, slots=True)
class Day:
    """The day of one table: its zones, its channels, how good it is, and what is special about it."""

    shown: ShownTable
    zones: tuple[Figure, ...]
    channels: Figure
    fit: Figure
    proofs: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """Everything on the page."""

    title: str
    tank: str
    dates: str
    clock: str
    verdict: str
    is_refused: bool
    days: tuple[Day, ...]
    doses: tuple[ZoneDose, ...]
    of_light: tuple[str, ...]
    held: tuple[str, ...]
    year: Figure | None
    is_year: bool
    tubes: Figure | None
    agenda: Figure | None
    errands: tuple[ListedErrand, ...]
    cost: Figure | None
    cost_words: str
    land: tuple[Figure, ...]
    findings: tuple[ShownFinding, ...]
    not_guarded: str
    not_run: str
    cautions: tuple[str, ...]
    provenance: tuple[tuple[str, str], ...]
    sheet: Sheet
    not_normal: tuple[tuple[str, str], ...]
    never_touch: tuple[str, ...]
    legend: tuple[tuple[int, str], ...]


def contents_of(
    program: Program, report: Report, lines: Sequence[str], files: Mapping[str, bytes]
) -> Contents:
    """Return what the page of a program holds; the parameters are those of `render.render_page`."""
    schedule = program.schedule
    hatches = hatches_of(schedule.channels)
    is_refused = report.has_errors
    doses = zone_doses(program, hatches)
    land = (
        land_figure(program, found, number)
        for number, found in enumerate(landed(schedule, program.tables[0], files), start=1)
    )
    return Contents(
        title=safe(schedule.title),
        tank=schedule.tank,
        dates=dates_text(program.span),
        clock=str(schedule.controller.clock),
        verdict=_verdict(doses, schedule, report),
        is_refused=is_refused,
        days=tuple(
            _day(program, each, hatches, has_rows=not is_refused) for each in shown_tables(program)
        ),
        doses=doses,
        of_light=_of_light(program),
        held=tuple(safe(line) for line in held_lines(program) if line),
        year=year_figure(program),
        is_year=program.span is not None and program.span.days > YEAR_DAYS,
        tubes=tubes_figure(program),
        agenda=agenda_figure(program),
        errands=listed(program),
        cost=cost_figure(program, hatches),
        cost_words=cost_words(program),
        land=tuple(figure for figure in land if figure is not None),
        findings=shown_findings(report.sorted(), lines, report.others),
        not_guarded=safe(unguarded_line(report.not_guarded)),
        not_run=safe(not_checked_line(report.not_run, detail=True)) if report.not_run else "",
        cautions=CAUTIONS,
        provenance=_provenance(program),
        sheet=sheet_of(program, hatches),
        not_normal=NOT_NORMAL,
        never_touch=NEVER_TOUCH,
        legend=tuple((hatches[id], safe(c.label)) for id, c in schedule.channels.items()),
    )


def _day(program: Program, shown: ShownTable, hatches: Mapping[str, int], *, has_rows: bool) -> Day:
    table, step_s = shown.table, program.schedule.controller.times.step_s
    return Day(
        shown=shown,
        zones=tuple(day_figure(shown, zone, hatches) for zone in table.zones.values()),
        channels=strips_figure(shown, hatches, step_s, has_rows=has_rows),
        fit=fit_figure(shown),
        proofs=tuple(proofs(program, table)),
        notes=tuple(safe(note) for note in table_notes(table)),
    )


def _verdict(doses: Sequence[ZoneDose], schedule: Schedule, report: Report) -> str:
    """Return the page in a few sentences: the doses, nights that are too short, and what was found."""
    dose = doses_words(doses)
    short = [
        safe(schedule.zones[str(each.path[-1])].label)
        for each in report.sorted()
        if each.name == "night-too-short"
    ]
    if short:
        dose += f" The night is too short in {and_list(short)}."
    counts = [
        counted(report.count(severity), str(severity))
        for severity in (Severity.ERROR, Severity.WARNING, Severity.NOTE)
        if report.count(severity)
    ]
    if report.count(Severity.ACCEPTED):
        counts.append(f"{report.count(Severity.ACCEPTED)} accepted")
    found = f"Findings: {', '.join(counts)}." if counts else "Nothing was found to complain of."
    return f"{dose} {found}"


def doses_words(doses: Sequence[ZoneDose]) -> str:
    """Return in a sentence or two whether doses are right, lower as planned, wrong, or not known."""
    banded = [each for each in doses if each.verdict != "no band"]
    if not doses:
        return "No zone is described, so no dose is known."
    if not banded:
        return "No zone has a band for its dose."
    wrong = [each for each in banded if not each.is_right]
    unknown = [each.name for each in wrong if each.verdict == "not known"]
    outside = [f"{each.name} {each.verdict}" for each in wrong if each.verdict != "not known"]
    not_known = f"Not every dose is known: it is not in {and_list(unknown)}." if unknown else ""
    if outside:
        return f"Not every dose is right: {and_list(outside)}. {not_known}".rstrip()
    if unknown:
        return not_known
    others = "; the others have no band" if len(banded) < len(doses) else ""
    lowered = [
        f"in {each.name} on {'all dates' if each.verdict == LOWER else 'some dates'}"
        for each in banded
        if each.is_lowered
    ]
    if lowered:
        return f"No dose is wrong. It is below its band, as planned, {and_list(lowered)}{others}."
    where = counted(len(banded), "zone") if others else "every zone"
    return f"The dose is right in {where}{others}."


def _of_light(program: Program) -> tuple[str, ...]:
    """Return what else is known of the light of zones: what it is worth, its colours, what was found."""
    found = program.schedule.found
    lines = [*useful_light_lines(program), *zone_colour_lines(program)]
    lines += found_sentences(found) if found is not None else []
    lines += found_beside_changes_line(program)
    lines += [line.strip() for line in change_lines(program)[1:]]
    for id, (shown, nights, _) in program.moon_nights.items():
        lines.append(
            f"{id} shows half of the moon's light or more on {shown} of {nights} dates that have a moon"
        )
    return tuple(safe(line) for line in lines)


def _provenance(program: Program) -> tuple[tuple[str, str], ...]:
    schedule = program.schedule
    rows = [
        ("Schedule, SHA-256", schedule.digest),
        *(
            (f"Parts {safe(name)}, SHA-256", digest)
            for name, digest in schedule.parts_digests.items()
        ),
        *((f"Readings {safe(name)}, SHA-256", d) for name, d in schedule.readings_digests.items()),
        ("Made with", MADE_WITH),
        ("Zone data", ZONE_DATA),
        ("Valid for", dates_text(program.span)),
        ("Times", f"on the controller's clock ({schedule.controller.clock} time)"),
    ]
    return tuple(rows)
