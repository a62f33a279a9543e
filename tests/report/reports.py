"""Reports for the tests of what programs read."""

from __future__ import annotations

from photoperiod.diagnostics.model import Diagnostic, Related, Report, SourceRange
from photoperiod.diagnostics.unguarded import Unguarded, ZoneLimit
from tests.conftest import EXAMPLES, changed, compile_and_check, load

FAULTY = changed(
    ("title: Test bench", "titel: Test bench"),
    ("    full_volts: 10.0", "    full_volts: 10 V\n    full_volts: 9"),
    ("tubes: [blue-a]", "tubes: [blue-a, blue-b]"),
    ("  blue-a: {watts: 54}", "  blue-a: {watts: 54}\n  spare: {watts: 54}"),
    (", dark_hours_min: 8", ""),
)
HOSTILE = '\x00\x1b[2J\x7f\x85\x9b2J\u2028\u2029\u202e\u2066\ufeff\U000e0041"\\\n\t'


def everything():
    """Return a report that uses every field there is."""
    report = Report("tank.yaml")
    report.add(
        [
            Diagnostic(
                code="PHO308",
                message="the floor is not below full",
                path=("ballasts", "pair", "floor", "volts"),
                source_range=SourceRange(3, 20, 3, 22),
                help="lower it",
                related=(
                    Related(
                        message="full",
                        path=("ballasts", "pair", "full_volts"),
                        source_range=SourceRange(4, 1, 5, 3),
                    ),
                    Related(message="nowhere"),
                ),
            ),
            Diagnostic(
                code="PHO403", message="not dark", path=("channels", "a", "day", "peaks", 0)
            ).accept("algae only"),
            Diagnostic(
                code="PHO318",
                message="unused",
                path=("tubes", "b"),
                source_range=SourceRange(9, 1, 9, 2),
            ),
            Diagnostic(
                code="PHO324", message="a default", path=(), source_range=SourceRange(1, 1, 1, 2)
            ),
        ]
    )
    report.not_run["tube-overdue"] = "needs dates"
    report.not_guarded = (
        Unguarded(limits=(ZoneLimit.PPFD_MAX,), zones=("sand",), because="no ppfd_max"),
        Unguarded(
            limits=(ZoneLimit.DLI, ZoneLimit.DARK_HOURS),
            zones=("a", "b"),
            because="it is not known",
        ),
    )
    return report


def hostile():
    report = Report(f"tank{HOSTILE}.yaml")
    report.add(
        [
            Diagnostic(
                code="PHO201",
                message=HOSTILE,
                path=(HOSTILE, 0),
                source_range=SourceRange(1, 1, 1, 2),
                help=HOSTILE,
                related=(Related(message=HOSTILE, path=(HOSTILE,)),),
            ),
            Diagnostic(code="PHO403", message=HOSTILE).accept(HOSTILE),
        ]
    )
    return report


def faulty():
    return load("tank.yaml", FAULTY.encode()).report


def compiled():
    outcomes = [
        compile_and_check(load(path.name, path.read_bytes()), None) for path in EXAMPLES[:2]
    ]
    return [outcome.report for outcome in outcomes]


REPORTS = [Report("empty.yaml"), everything(), hostile(), faulty()]
NAMES = ["empty", "everything", "hostile", "faulty"]
