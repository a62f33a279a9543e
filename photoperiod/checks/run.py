"""Run all checks on a program, table by table, and gather their findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from photoperiod.checks.acceptances import accept
from photoperiod.checks.registry import CHECKS, Check
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.program.model import Program

#: A finding names the first dates of at most so many tables, and counts the others.
MOST_NAMED = 3


def run_checks(program: Program) -> tuple[list[Diagnostic], dict[str, str]]:
    """Return the findings of all checks, and the names of the checks that did not run, with why.

    Hard findings that the schedule accepts by name come back accepted. An acceptance that matches
    no finding is a finding itself (PHO415).
    """
    checks, not_run = _to_run(program)
    return accept(program.schedule.acceptances, _findings(checks, program)), not_run


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

    A finding that several tables have comes once, with the numbers of the first of them. All checks
    look at one table before any looks at the next: the curves of a day are computed again when they
    are asked for, and only those of the last few days are kept.
    """
    found: dict[str, list[Diagnostic]] = {check.code: [] for check in checks}
    at_once = [c for c in checks if len(program.tables) == 1 or c.all_tables_at_once]
    for check in at_once:
        found[check.code] += check.run(program)
    by_table = [check for check in checks if check not in at_once]
    dated: dict[tuple[str, Path, str, int], tuple[Diagnostic, list[str]]] = {}
    for table in program.tables if by_table else ():
        alone = replace(program, tables=(table,))
        for check in by_table:
            seen: Counter[tuple[Path, str]] = Counter()
            for finding in check.run(alone):
                place = finding.path, finding.variant
                key = check.code, *place, seen[place]
                seen[place] += 1
                _, dates = dated.setdefault(key, (finding, []))
                if table.span:
                    dates.append(str(table.span.first))
    for (code, *_), (finding, dates) in dated.items():
        found[code].append(_with_dates(finding, dates, len(program.tables)))
    return [finding for findings in found.values() for finding in findings]


def _with_dates(finding: Diagnostic, dates: list[str], count: int) -> Diagnostic:
    """Return a finding that names the tables which have it; unchanged if all ``count`` have it."""
    if len(dates) == count:
        return finding
    named = ", ".join(dates[:MOST_NAMED])
    if len(dates) > MOST_NAMED:
        named += f" and {len(dates) - MOST_NAMED} more, the last from {dates[-1]}"
    what = "table" if len(dates) == 1 else "tables"
    return replace(finding, message=f"{finding.message} ({what} from {named})")
