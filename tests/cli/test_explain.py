"""``photoperiod explain``."""

from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from tests.conftest import Run


def test_every_code_is_explained(run: Run) -> None:
    for code, entry in CODES.items():
        status, out, _ = run("explain", code.lower())
        assert status == 0
        assert out.startswith(f"{code} {entry.name} ({entry.severity}): {entry.title}\n\n")
        assert run("explain", entry.name)[1] == out
    listing = run("explain")[1]
    assert len(listing.splitlines()) == len(CODES)


def test_an_example_stands_below_the_explanation(run: Run) -> None:
    out = run("explain", "PHO319")[1]
    assert out.endswith("\n\nFor example:\n\n  zones:\n    crest: {dli: [3, 5]}\n")
    assert "For example" not in run("explain", "PHO100")[1]


def test_explain_guesses_what_was_meant(run: Run) -> None:
    assert "did you mean unknown-key?" in run("explain", "unknwn-key")[2]
