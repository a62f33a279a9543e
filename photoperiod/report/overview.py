"""Many tanks, a line for each: doses beside limits, the next load, the next tube, what was found."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Report
from photoperiod.program.loads import load_by
from photoperiod.program.model import Program
from photoperiod.report.overview_json import failed_data, refused_data, tank_data
from photoperiod.report.summary import ZONE_HEAD, zone_rows
from photoperiod.report.text import counts_words, gravest_of
from photoperiod.text import columns, counted, safe, width, wrapped
from photoperiod.upkeep.agenda import ErrandKind, agenda
from photoperiod.upkeep.due import forecast

#: What stands above the columns.
HEAD = ("tank", "zones: DLI mol/m², peak µmol/m²s", "next load", "next tube", "findings")

#: Beside its zones a tank is told of in so many columns at least: those of a load between two dates.
LEAST_BESIDE = 56

#: What a tank has that could not be compiled, where others have loads and tubes.
_NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class TankOverview:
    """What a line tells of a tank, in words.

    Parameters
    ----------
    file : str
        Its file.
    tank : str
        Its id; the name of the file where that is not known.
    zones : tuple of tuple of str
        Of each zone what stands under `ZONE_HEAD`: its dose and its peak beside what is allowed.
    instead : str
        Why there are no zones; empty where there are.
    next_load, next_tube : str
        The first load after the first date; the first tube to fit or to replace.
    findings : str
        How many of which severity, and the code of the gravest.
    is_fine : bool
        False if there is an error, so that no table is written.
    data : mapping
        The same in numbers, as ``schemas/overview.schema.json`` describes it.
    """

    file: str
    tank: str
    zones: tuple[tuple[str, ...], ...]
    instead: str
    next_load: str
    next_tube: str
    findings: str
    is_fine: bool
    data: Mapping[str, Any]

    @property
    def in_words(self) -> str:
        """Its zones in a sentence; or why there are none."""
        words = (
            f"{id} {dli} {dose}, peak {peak}, {'no limit' if limit == 'none' else f'limit {limit}'}"
            for id, dli, dose, peak, limit in self.zones
        )
        return "; ".join(words) or self.instead

    @property
    def facts(self) -> list[str]:
        """What is told of it beside its zones, a sentence each."""
        told = {"next load": self.next_load, "next tube": self.next_tube, "findings": self.findings}
        facts = [f"{what}: {words}" for what, words in told.items() if words != _NOT_KNOWN]
        return [self.instead, *facts] if self.instead else facts


def overview_of(program: Program, report: Report) -> TankOverview:
    """Return what a line tells of a program with dates."""
    zones = tuple(row[: len(ZONE_HEAD)] for row in zone_rows(program, report.sorted()))
    next_tube, about_tube = _next_tube(program)
    return TankOverview(
        file=report.file,
        tank=program.schedule.tank,
        zones=zones,
        instead="" if zones else "no zones: no dose is known",
        next_load=_next_load(program),
        next_tube=next_tube,
        findings=_findings(report),
        is_fine=not report.has_errors,
        data=tank_data(program, report, about_tube),
    )


def overview_of_refused(report: Report) -> TankOverview:
    """Return what a line tells of a file whose schedule has errors: the first of them, with its line."""
    errors = [d for d in report.sorted() if d.severity is Severity.ERROR]
    first = errors[0]
    place = "" if first.source_range is None else f"line {first.source_range.line}: "
    place = f"{report.shown(first.file)}, {place}" if first.file and place else place
    more = f", and {counted(len(errors) - 1, 'more error')}" if len(errors) > 1 else ""
    why = f"{place}{' '.join(first.message.split())}{more}"
    return _not_compiled(report.file, why, _findings(report), refused_data(report))


def overview_of_failed(file: str, why: str) -> TankOverview:
    """Return what a line tells of a file that could not be compiled."""
    return _not_compiled(file, why, "1 error", failed_data(file, why))


def _not_compiled(file: str, why: str, findings: str, data: Mapping[str, Any]) -> TankOverview:
    return TankOverview(
        file=file,
        tank=file,
        zones=(),
        instead=f"NOT COMPILED: {why}",
        next_load=_NOT_KNOWN,
        next_tube=_NOT_KNOWN,
        findings=findings,
        is_fine=False,
        data=data,
    )


def render_overview(tanks: Sequence[TankOverview], room: int | None = None) -> str:
    """Return a line for each tank under a head; where ``room`` columns are too few, a line for each zone.

    Then what is told of the tank stands beside its zones, or below them if there is no room either. Tanks
    that have one id are told by their files, too.
    """
    times = Counter(each.tank for each in tanks)
    names = [safe(_name(each, times)) for each in tanks]
    lines = columns(
        HEAD,
        [
            (name, *map(safe, (t.in_words, t.next_load, t.next_tube, t.findings)))
            for name, t in zip(names, tanks, strict=True)
        ],
    )
    if room is not None and max(map(width, lines)) > room:
        lines = _beside_zones(names, tanks, room) or _below_zones(names, tanks, room)
    refused = sum(not tank.is_fine for tank in tanks)
    told = f"{counted(len(tanks), 'tank')}, {refused or 'none'} with errors"
    told += ": no table is written for these" if refused else ""
    return "\n".join([*lines, "", wrapped(told, room)]) + "\n"


def _beside_zones(
    names: Sequence[str], tanks: Sequence[TankOverview], room: int
) -> list[str] | None:
    """Return a line for each zone, and what is told of its tank beside; None if that takes more room."""
    rows = [
        (name if at == 0 else "", *zone)
        for name, tank in zip(names, tanks, strict=True)
        for at, zone in enumerate(tank.zones)
    ]
    head, *zones = columns(("tank", *ZONE_HEAD), rows)
    edge = max(map(width, (head, *zones))) + 2
    if room - edge < LEAST_BESIDE:
        return None
    lines, rest = [head], iter(zones)
    for name, tank in zip(names, tanks, strict=True):
        left = list(itertools.islice(rest, len(tank.zones))) or [name]
        right = _wrapped_facts(tank, room - edge)
        if width(left[0]) + 2 > edge:
            right = ["", *right]  # the name of a file, where there is no zone
        for zone, fact in itertools.zip_longest(left, right, fillvalue=""):
            lines.append(f"{zone}{' ' * (edge - width(zone))}{fact}".rstrip())
    return lines


def _below_zones(names: Sequence[str], tanks: Sequence[TankOverview], room: int) -> list[str]:
    """Return a line for each tank, one for each of its zones, and what is told of it below."""
    head, *zones = columns(ZONE_HEAD, [zone for tank in tanks for zone in tank.zones])
    lines, rest = ["tank", f"  {head}"], iter(zones)
    for name, tank in zip(names, tanks, strict=True):
        of_tank = list(itertools.islice(rest, len(tank.zones)))
        below = [*of_tank, *_wrapped_facts(tank, room - 2)]
        lines += [name, *(f"  {line}" for line in below)]
    return [wrapped(line, room, "    ") for line in lines]


def _wrapped_facts(tank: TankOverview, room: int) -> list[str]:
    return [line for fact in tank.facts for line in wrapped(safe(fact), room, "  ").split("\n")]


def _name(tank: TankOverview, times: Mapping[str, int]) -> str:
    return tank.tank if times[tank.tank] == 1 else f"{tank.tank} ({tank.file})"


def _next_load(program: Program) -> str:
    """Return when the first load after that of the first date is due."""
    loads = program.loads
    if len(loads) < 2:
        assert program.span is not None
        return f"none up to {program.span.last}"
    return load_by(loads[1][0], loads[0][-1])


def _next_tube(program: Program) -> tuple[str, dict[str, Any] | None]:
    """Return what is first, in words and as data: a tube to fit, or one that is due and stays until then."""
    assert program.span is not None
    found: list[tuple[dt.date, int, str, str | None, str | None]] = [
        (
            errand.date,
            0,
            f"{errand.title[0].lower()}{errand.title[1:]} on {errand.date}",
            None,
            None,
        )
        for errand in agenda(program)
        if errand.kind is ErrandKind.FIT
    ]
    for each in forecast(program):
        if each.first_due is None:
            continue
        date, reason = each.first_due
        if each.left_on is not None and each.left_on <= max(date, program.span.first):
            continue
        when = "was due" if date < program.span.first else "is due"
        words = f"{each.tube.id} {when} on {date} by its {reason}"
        found.append((date, 1, words, each.tube.id, str(reason)))
    if not found:
        return "none told", None
    date, _, words, tube, due_by = min(found, key=lambda each: each[:3])
    data = {"date": date.isoformat(), "tube": tube, "due_by": due_by, "words": words}
    return words, {"errand": "fit" if tube is None else "replace"} | data


def _findings(report: Report) -> str:
    gravest = gravest_of(report)
    words = counts_words(report) or "none"
    return words if gravest is None else f"{words} ({gravest.code} {gravest.name})"
