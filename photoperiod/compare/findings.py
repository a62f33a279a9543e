"""A log compared with a table: dose, deviations, gaps, clock, relays.

Light is compared with the replay within a tolerance in time, so that a record written a few seconds
after a step of the level is no error. A clock that is off is found first and allowed for: one mistake
gives one finding.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from photoperiod.compare.clock_drift import find_clock
from photoperiod.compare.contradictions import contradiction_findings
from photoperiod.compare.coverage import (
    blank_findings,
    date_findings,
    gap_findings,
    log_findings,
    missing_findings,
    not_seen,
    part_of_day_findings,
)
from photoperiod.compare.deviations import deviations_of
from photoperiod.compare.doses import dose_findings, result_of, zone_results
from photoperiod.compare.expected import Expected
from photoperiod.compare.levels import level_findings, open_pair_findings
from photoperiod.compare.log_model import Log
from photoperiod.compare.logged_light import logged_lights
from photoperiod.compare.model import Comparison, Finding, Limits
from photoperiod.compare.open_relays import open_relay_findings
from photoperiod.compare.relays import relay_findings
from photoperiod.formats.table import PlayableTable
from photoperiod.sky.clock import Clock


def compare_log(
    table: PlayableTable,
    log: Log,
    clock: Clock,
    limits: Limits,
    only: Sequence[str] = (),
) -> Comparison:
    """Return how a log differs from a table.

    Parameters
    ----------
    table : PlayableTable
        The table that was loaded.
    log : Log
        What happened.
    clock : Clock
        The controller's clock.
    limits : Limits
        The deviations that are still allowed.
    only : sequence of str
        The channels that must be in the log; all channels if empty.
    """
    expected = Expected(table, clock)
    span = log.span_unix_s
    shift, clock_finding = find_clock(
        expected, logged_lights(table, log, expected, None), limits.time_s
    )
    findings = [] if clock_finding is None else [clock_finding]
    results, deviations = [], {}
    for light in logged_lights(table, log, expected, shift):
        deviations[light.subject] = found = deviations_of(light, limits, shift)
        results.append(result_of(expected, light, limits, shift, found.away))
        findings += gap_findings(expected, light, limits, span)
        findings += level_findings(expected, light, limits, found)
    findings += part_of_day_findings(expected, limits, span)
    findings += relay_findings(expected, log, limits, shift)
    findings += contradiction_findings(expected, log, limits)
    findings += open_pair_findings(table, log, expected)
    findings += open_relay_findings(expected, log, limits, shift)
    findings += missing_findings(table, log, only)
    findings += blank_findings(table, expected, log)
    results += zone_results(table, results)
    findings += dose_findings(results, limits)
    findings += date_findings(table, expected, log)
    findings += log_findings(expected, log)
    return Comparison(
        clock=clock,
        first_unix_s=span[0],
        last_unix_s=span[1],
        clock_ahead_s=float(shift.at(np.array([span[1]]))[0]),
        results=tuple(results),
        findings=_merged(findings),
        not_seen=not_seen(table, log, deviations, expected, limits),
    )


def _merged(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the warnings, then the notes; findings of several subjects with one text become one."""
    by_text: dict[tuple[bool, str, str], list[str]] = {}
    for one in findings:
        by_text.setdefault((not one.is_warning, one.code, one.message), []).append(one.subject)
    return tuple(
        Finding(code, ", ".join(filter(None, subjects)), message, is_warning=not is_note)
        for (is_note, code, message), subjects in sorted(
            by_text.items(), key=lambda item: item[0][:2]
        )
    )
