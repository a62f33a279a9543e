"""Hard findings that a schedule accepts by name, and acceptances that match no finding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.codes import BY_NAME, CODES
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.model import Acceptance


def accept(acceptances: Sequence[Acceptance], findings: Iterable[Diagnostic]) -> list[Diagnostic]:
    """Return the findings, hard ones accepted by the first acceptance that matches them.

    At the end stands a finding (PHO415) for each acceptance that was not used.
    """
    used: set[int] = set()
    result = []
    for finding in findings:
        for index, acceptance in enumerate(acceptances):
            if CODES[finding.code].is_hard and _matches(acceptance, finding):
                used.add(index)
                finding = finding.accept(acceptance.because)
                break
        result.append(finding)
    return result + [
        on_value(
            "PHO415",
            ("accept", index, "finding"),
            f"'{acceptance.finding}' is accepted but does not occur here",
            help="remove it, so that it can't hide the finding if it comes back",
        )
        for index, acceptance in enumerate(acceptances)
        if index not in used
    ]


def _matches(acceptance: Acceptance, finding: Diagnostic) -> bool:
    """Return whether an acceptance names a finding, and the channel or zone that it is about."""
    if BY_NAME[acceptance.finding].code != finding.code:
        return False
    if not acceptance.channels and not acceptance.zones:
        return True
    kind, *rest = finding.path
    ids = {"channels": acceptance.channels, "zones": acceptance.zones}.get(str(kind), frozenset())
    return bool(rest) and rest[0] in ids
