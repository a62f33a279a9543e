"""Run all checks on a program, table by table, and gather their findings."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from photoperiod.checks.acceptances import accept
from photoperiod.checks.registry import CHECKS, Check
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.program.model import Program

#: A finding names the first dates of at most so many tables, and counts the others.
MOST_NAMED = 3

#: Findings whose gravities differ by less are alike, and none of them is called the worst.
SAME_GRAVITY = 1e-6


class _Dated(NamedTuple):
    """A finding on one table, and the first date of that table."""

    finding: Diagnostic
    date: str


def run_checks(program: Program) -> tuple[list[Diagnostic], dict[str, str]]:
    """Return the findings of all checks, and the names of the checks that did not run, with why.

    Hard findings that the schedule accepts by name come back accepted. An acceptance that matches
    no finding is a finding itself (PHO415).
    """
    checks, not_run = _to_run(program)
    return accept(program.schedule.acceptances, _findings(checks, program)), not_run


def advised(check: Check, program: Program, found: list[Diagnostic]) -> list[Diagnostic]:
    """Return the findings of a check with its advice, which it may try on all other checks."""
    if check.advice is None or not found:
        return found
    advice = check.advice(program, functools.partial(findings_without, code=check.code))
    return [replace(finding, help=advice) for finding in found]


def findings_without(program: Program, code: str) -> list[Diagnostic]:
    """Return the findings of all checks but one, accepted or not."""
    return _findings([check for check in _to_run(program)[0] if check.code != code], program)


def _to_run(program: Program) -> tuple[list[Check], dict[str, str]]:
    """Return the checks that run, and the names of those that do not, with why."""
    checks: list[Check] = []
    not_run: dict[str, str] = {}
    for check in CHECKS:
        missing = check.needs(program.schedule)
        if check.needs_dates and program.span is None:
            if program.schedule.tubes:
                not_run[check.name] = "needs dates: --date, or --from and --to"
        elif missing:
            not_run[check.name] = missing
        else:
            checks.append(check)
    return checks, not_run


def _findings(checks: Sequence[Check], program: Program) -> list[Diagnostic]:
    """Return the findings of checks, in the order of the checks.

    A finding that several tables have comes once, with the numbers of the table in which it is worst. All
    checks look at one table before any looks at the next: the curves of a day are computed again when they
    are asked for, and only those of the last few days are kept.
    """
    found: dict[str, list[Diagnostic]] = {check.code: [] for check in checks}
    at_once = [c for c in checks if len(program.tables) == 1 or c.all_tables_at_once]
    for check in at_once:
        found[check.code] += check.run(program)
    by_table = [check for check in checks if check not in at_once]
    dated: dict[tuple[str, Path, str, int], list[_Dated]] = {}
    for table in program.tables if by_table else ():
        alone = replace(program, tables=(table,))
        date = str(table.span.first) if table.span else ""
        for check in by_table:
            seen: Counter[tuple[Path, str]] = Counter()
            for finding in check.run(alone):
                place = finding.path, finding.variant
                key = check.code, *place, seen[place]
                seen[place] += 1
                dated.setdefault(key, []).append(_Dated(finding, date))
    for (code, *_), alike in dated.items():
        found[code].append(_worst(alike, len(program.tables)))
    return [finding for check in checks for finding in advised(check, program, found[check.code])]


def _worst(found: Sequence[_Dated], count: int) -> Diagnostic:
    """Return the gravest of findings that differ by their table, the first of equal ones.

    It names the tables that have it, unless all ``count`` have, and its own, unless all are as grave.
    """
    gravities = [each.finding.gravity for each in found]
    worst = found[0]
    ends: list[str] = []
    if len(found) < count:
        named = ", ".join(each.date for each in found[:MOST_NAMED])
        if len(found) > MOST_NAMED:
            named += f" and {len(found) - MOST_NAMED} more, the last from {found[-1].date}"
        ends.append(f"{'table' if len(found) == 1 else 'tables'} from {named}")
    if max(gravities) - min(gravities) > SAME_GRAVITY:
        worst = max(found, key=lambda each: each.finding.gravity)
        ends.append(f"worst in the table from {worst.date}")
    if not ends:
        return worst.finding
    return replace(worst.finding, message=f"{worst.finding.message} ({'; '.join(ends)})")
