"""``photoperiod explain``."""

from __future__ import annotations

import pytest

from photoperiod.diagnostics.codes import CODES
from photoperiod.report.glossary import GLOSSARY, glossary_markdown
from tests.conftest import Run, naming


def test_every_code_is_explained(run: Run) -> None:
    for code, entry in CODES.items():
        status, out, _ = run("explain", code.lower())
        assert status == 0
        assert out.startswith(f"{code} {entry.name} ({entry.severity}): {entry.title}\n\n")
        assert run("explain", entry.name)[1] == out


def test_every_word_is_explained(run: Run) -> None:
    for section in GLOSSARY:
        for word in section.words:
            for name in (*word.names, *word.also):
                with naming(name):
                    status, out, err = run("explain", *name.upper().split())
                    assert status == 0, err
                    assert out.startswith(", ".join(word.names) + ": ")
                    assert " ".join(word.more.split()) in " ".join(out.split())
                    assert max(map(len, out.splitlines())) <= 80


def test_without_a_word_all_are_listed(run: Run) -> None:
    lines = run("explain")[1].splitlines()
    assert [line[:6] for line in lines[: len(CODES)]] == list(CODES)
    listed = " ".join(lines[len(CODES) :])
    assert "Words of the trade: PPFD, DLI," in listed
    assert all(
        name in listed for section in GLOSSARY for word in section.words for name in word.names
    )


def test_an_example_stands_below_the_explanation(run: Run) -> None:
    out = run("explain", "PHO319")[1]
    assert out.endswith("\n\nFor example:\n\n  zones:\n    crest: {dli: [3, 5]}\n")
    assert "For example" not in run("explain", "PHO100")[1]


@pytest.mark.parametrize(
    ("word", "meant"),
    [("unknwn-key", "unknown-key"), ("burnin", "burn-in"), ("dpreciation", "depreciation"),
     ("PHO2011", "PHO201"), ("dlli", "DLI")],
)  # fmt: skip
def test_explain_guesses_what_was_meant(run: Run, word: str, meant: str) -> None:
    status, out, err = run("explain", word)
    assert (status, out) == (2, "")
    assert f"'{word}'; did you mean {meant}?" in err


def test_acclimation_has_a_line_to_write(run: Run) -> None:
    out = " ".join(run("explain", "acclimation")[1].split())
    assert "changes: [{kind: acclimation," in out
    assert "with the same `--ledger FILE`" in out and "PHO420" in out
    assert "`--ledger`" in " ".join(run("explain", "PHO420")[1].split())


def test_what_is_nowhere_is_told(run: Run) -> None:
    status, _, err = run("explain", "xylophone\x1b")
    assert status == 2
    assert "no code or word 'xylophone\\x1b'; `photoperiod explain` lists them all" in err


def test_the_page_of_words_comes_from_the_command(run: Run) -> None:
    assert run("explain", "--markdown")[1] == glossary_markdown()
