from __future__ import annotations

import pytest

from photoperiod.checks.acceptances import accept
from photoperiod.checks.finding import on_key, on_value
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.model import Acceptance
from tests.checks.bench import SPAN, assert_found, found_in
from tests.conftest import changed, compiled

NEVER = ("    dark: {kind: relay}\n", "    dark: {kind: never}\n")
NO_RELAY = ("  relay: {kind: column}\n", "  relay: {kind: none}\n")

NIGHT_OF_WEAK = on_value("PHO403", ("channels", "weak", "ballast"), "never dark")
NIGHT_OF_STRONG = on_value("PHO403", ("channels", "strong", "ballast"), "never dark")
BRIGHT_CREST = on_value("PHO402", ("zones", "crest", "ppfd_max"), "too bright")
TOO_MANY = on_value("PHO404", ("controller", "channels"), "too many")
ALL_CHANNELS = on_value("PHO404", ("channels",), "too many")
DOSE = on_value("PHO405", ("zones", "crest", "dli"), "too small")


def accepting(
    finding: str, *, channels: tuple[str, ...] = (), zones: tuple[str, ...] = (), index: int = 0
) -> Acceptance:
    return Acceptance(
        finding=finding,
        channels=frozenset(channels),
        zones=frozenset(zones),
        because=f"reason {index}",
    )


def reasons(findings: list[Diagnostic]) -> list[str | None]:
    return [each.accepted for each in findings]


def test_an_acceptance_that_nothing_needs() -> None:
    assert_found(
        "PHO415",
        [
            (
                "channels:\n",
                "accept:\n  - {finding: night-not-dark, because: an old reason}\nchannels:\n",
            )
        ],
        (26, 15, "night-not-dark"),
        "'night-not-dark' is accepted but",
    )


@pytest.mark.parametrize("limit", ["channels: [other]", "zones: [crest]"])
def test_an_acceptance_for_others_does_not_help(limit: str) -> None:
    other = (
        "  other:\n    ballast: pair\n    full_ppfd: {zones: {crest: 1}}\n"
        "    day: {kind: points, points: [{time: 00:00, light_percent: 50},"
        " {time: 24:00, light_percent: 50}]}\n"
    )
    accept = (
        f"accept:\n  - {{finding: night-not-dark, {limit}, because: an old reason}}\nchannels:\n"
    )
    outcome = compiled(changed(NEVER, NO_RELAY, ("channels:\n", accept + other)), SPAN)
    assert found_in(outcome, "PHO403").severity is Severity.ERROR
    assert found_in(outcome, "PHO415").severity is Severity.WARNING


def test_without_limits_every_finding_of_the_name_is_accepted() -> None:
    found = accept([accepting("night-not-dark")], [NIGHT_OF_WEAK, BRIGHT_CREST, NIGHT_OF_STRONG])
    assert reasons(found) == ["reason 0", None, "reason 0"]
    assert [each.severity for each in found] == [
        Severity.ACCEPTED,
        Severity.ERROR,
        Severity.ACCEPTED,
    ]


@pytest.mark.parametrize(
    ("acceptance", "finding", "is_accepted"),
    [
        (accepting("night-not-dark", channels=("weak",)), NIGHT_OF_WEAK, True),
        (accepting("night-not-dark", channels=("weak",)), NIGHT_OF_STRONG, False),
        (accepting("night-not-dark", channels=("weak", "strong")), NIGHT_OF_STRONG, True),
        (accepting("night-not-dark", zones=("weak",)), NIGHT_OF_WEAK, False),
        (accepting("ppfd-above-most", zones=("crest",)), BRIGHT_CREST, True),
        (accepting("ppfd-above-most", zones=("sand",)), BRIGHT_CREST, False),
        (accepting("ppfd-above-most", channels=("crest",)), BRIGHT_CREST, False),
        (accepting("ppfd-above-most", channels=("weak",), zones=("crest",)), BRIGHT_CREST, True),
        (accepting("night-not-dark"), BRIGHT_CREST, False),
        (accepting("more-than-controller-holds"), TOO_MANY, True),
        (accepting("more-than-controller-holds", channels=("channels",)), TOO_MANY, False),
        (accepting("more-than-controller-holds", channels=("weak",)), ALL_CHANNELS, False),
        (accepting("dose-outside-band"), DOSE, False),  # a warning needs no acceptance
    ],
)  # fmt: skip
def test_whom_an_acceptance_is_for(
    acceptance: Acceptance, finding: Diagnostic, is_accepted: bool
) -> None:
    first, *unused = accept([acceptance], [finding])
    assert (first.accepted is not None) == is_accepted
    assert [each.code for each in unused] == ([] if is_accepted else ["PHO415"])


def test_the_first_acceptance_that_fits_is_the_one() -> None:
    acceptances = [
        accepting("night-not-dark", channels=("strong",), index=0),
        accepting("night-not-dark", index=1),
        accepting("night-not-dark", channels=("weak",), index=2),
    ]
    found = accept(acceptances, [NIGHT_OF_WEAK, NIGHT_OF_STRONG])
    assert reasons(found) == ["reason 1", "reason 0", None]
    assert found[2].code == "PHO415"
    assert found[2].path == ("accept", 2, "finding")


def test_unused_acceptances_come_last_in_the_order_of_the_file() -> None:
    acceptances = [accepting("night-not-dark", index=0), accepting("ppfd-above-most", index=1)]
    found = accept(acceptances, [DOSE])
    assert [(each.code, each.path) for each in found] == [
        ("PHO405", DOSE.path),
        ("PHO415", ("accept", 0, "finding")),
        ("PHO415", ("accept", 1, "finding")),
    ]
    assert [each.message for each in found[1:]] == [
        "'night-not-dark' is accepted but does not occur here",
        "'ppfd-above-most' is accepted but does not occur here",
    ]


def test_what_is_accepted_stays_as_it_was_beside() -> None:
    finding = on_key("PHO401", ("channels", "weak"), "too much", "less")
    (found,) = accept([accepting("volts-out-of-reach")], [finding])
    assert found.path == finding.path and found.on_key
    assert (found.message, found.help) == ("too much", "less")
