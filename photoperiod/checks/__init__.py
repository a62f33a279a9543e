"""Checks on compiled days, one file each. `REGISTRY` is the list; nothing is discovered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from types import ModuleType

from photoperiod.checks import (
    bright_moonlight,
    burn_in_from_dark,
    burn_in_waits,
    clock_set_back_lit,
    dimmed_during_burn_in,
    dose_outside_band,
    floor_costs_dose,
    lit_at_change,
    many_starts,
    moon_seldom_shown,
    more_than_controller_holds,
    night_not_dark,
    night_too_short,
    peak_jumps,
    port_overloaded,
    ppfd_above_most,
    rises_too_fast,
    rounding_matters,
    safe_state_too_bright,
    season_strays,
    short_dark_gap,
    table_changes_dose,
    table_strays,
    tube_overdue,
    undefined_band,
    volts_out_of_reach,
)
from photoperiod.diagnostics.codes import BY_NAME, CODES
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.program.model import Program

#: Every check, in the order of their codes.
REGISTRY: tuple[ModuleType, ...] = (
    volts_out_of_reach,
    ppfd_above_most,
    night_not_dark,
    more_than_controller_holds,
    dose_outside_band,
    dimmed_during_burn_in,
    rises_too_fast,
    night_too_short,
    floor_costs_dose,
    table_strays,
    many_starts,
    port_overloaded,
    undefined_band,
    tube_overdue,
    rounding_matters,
    short_dark_gap,
    table_changes_dose,
    burn_in_waits,
    peak_jumps,
    burn_in_from_dark,
    lit_at_change,
    bright_moonlight,
    moon_seldom_shown,
    clock_set_back_lit,
    season_strays,
    safe_state_too_bright,
)


#: More tables than these are counted, not named.
MOST_NAMED = 3


def run_checks(program: Program) -> tuple[list[Diagnostic], dict[str, str]]:
    """Return the findings of all checks, and the names of those that could not run, with why.

    Hard findings that the schedule accepts by name come back accepted. An acceptance that nothing
    needed is a finding itself (PHO415).
    """
    modules: list[ModuleType] = []
    not_run: dict[str, str] = {}
    for module in REGISTRY:
        name = CODES[module.CODE].name
        if module.NEEDS_DATES and program.span is None:
            if program.schedule.tubes:
                not_run[name] = "needs dates: --date, or --from and --to"
        elif module is port_overloaded and program.schedule.controller.sink_milliamps is None:
            not_run[name] = "needs controller.port.sink_milliamps"
        else:
            modules.append(module)
    return _accepted(program, _found(modules, program)), not_run


def _found(modules: Sequence[ModuleType], program: Program) -> list[Diagnostic]:
    """Return the findings of checks; one that is not in all tables says so.

    What comes again in later tables, be it with other numbers, is told of once. One table after the
    other is looked at by all checks, because what they look at is made again when it is asked for.
    """
    found: dict[str, list[Diagnostic]] = {module.CODE: [] for module in modules}
    at_once = [m for m in modules if len(program.tables) == 1 or getattr(m, "OF_ALL_TABLES", False)]
    for module in at_once:
        found[module.CODE] += module.check(program)
    by_table = [module for module in modules if module not in at_once]
    dated: dict[tuple[str, Path, int], tuple[Diagnostic, list[str]]] = {}
    for table in program.tables if by_table else ():
        alone = replace(program, tables=(table,))
        for module in by_table:
            seen: Counter[Path] = Counter()
            for finding in module.check(alone):
                key = module.CODE, finding.path, seen[finding.path]
                seen[finding.path] += 1
                _, dates = dated.setdefault(key, (finding, []))
                if table.span:
                    dates.append(str(table.span.first))
    for (code, _, _), (finding, dates) in dated.items():
        found[code].append(_dated(finding, dates, len(program.tables)))
    return [finding for findings in found.values() for finding in findings]


def _dated(finding: Diagnostic, dates: list[str], count: int) -> Diagnostic:
    """Return a finding that names the tables which have it, but for one that all have."""
    if len(dates) == count:
        return finding
    named = ", ".join(dates[:MOST_NAMED])
    if len(dates) > MOST_NAMED:
        named += f" and {len(dates) - MOST_NAMED} more up to that from {dates[-1]}"
    what = "table" if len(dates) == 1 else "tables"
    return replace(finding, message=f"{finding.message} ({what} from {named})")


def _accepted(program: Program, findings: list[Diagnostic]) -> list[Diagnostic]:
    used: set[int] = set()
    result = []
    for finding in findings:
        if CODES[finding.code].is_hard:
            for index, acceptance in enumerate(program.schedule.acceptances):
                if BY_NAME[acceptance.finding].code != finding.code:
                    continue
                limits = {"channels": acceptance.channels, "zones": acceptance.zones}
                limited = {kind for kind, ids in limits.items() if ids}
                kind, *rest = finding.path
                if not limited or (kind in limited and rest and rest[0] in limits[str(kind)]):
                    used.add(index)
                    finding = finding.accept(acceptance.because)
                    break
        result.append(finding)
    for index, acceptance in enumerate(program.schedule.acceptances):
        if index not in used:
            result.append(
                Diagnostic(
                    code="PHO415",
                    path=(*acceptance.origin, "finding"),
                    message=f"'{acceptance.finding}' is accepted but does not occur here",
                    help="remove it, so that it can't hide the finding should it come back",
                )
            )
    return result
