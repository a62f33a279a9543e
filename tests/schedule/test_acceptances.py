from __future__ import annotations

from photoperiod.schedule.acceptances import build_acceptances
from photoperiod.schedule.model import Acceptance
from tests.conftest import SCHEDULE
from tests.schedule.bench import findings_of, told, top_of

ACCEPT = """\
accept:
  - {finding: night-not-dark, channels: [blue], because: it never is dark}
  - {finding: ppfd-above-most, zones: [crest], because: they are used to it}
"""


def test_acceptances_in_the_order_of_the_file() -> None:
    top = top_of(SCHEDULE + ACCEPT)
    findings = findings_of(top)
    assert build_acceptances(top, findings) == (
        Acceptance(
            finding="night-not-dark",
            channels=frozenset({"blue"}),
            because="it never is dark",
        ),
        Acceptance(
            finding="ppfd-above-most", zones=frozenset({"crest"}), because="they are used to it"
        ),
    )
    assert findings == []


def test_names_that_are_unknown() -> None:
    top = top_of(SCHEDULE + ACCEPT.replace("[blue]", "[blue, blau]"))
    findings = findings_of(top)
    build_acceptances(top, findings)
    assert told(findings) == [("PHO301", ("accept", 0, "channels", 1))]


def test_one_faulty_acceptance_spoils_all_for_none_must_be_missed() -> None:
    top = top_of(SCHEDULE + ACCEPT, ("accept", 1, "because"))
    assert build_acceptances(top, findings_of(top)) == ()


def test_nothing_is_accepted_unless_it_is_written() -> None:
    top = top_of(SCHEDULE)
    assert build_acceptances(top, findings_of(top)) == ()
