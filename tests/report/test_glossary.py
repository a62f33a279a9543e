from __future__ import annotations

import math

import pytest

from photoperiod.diagnostics.codes import BY_NAME
from photoperiod.report.glossary import GLOSSARY, NAMES, find_word, glossary_markdown
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S
from tests.conftest import ROOT, naming

WORDS = [word for section in GLOSSARY for word in section.words]


def test_each_word_is_defined_once() -> None:
    names = [name.casefold() for word in WORDS for name in (*word.names, *word.also)]
    assert len(names) > 90
    assert sorted(names) == sorted(set(names))
    assert sorted(name.casefold() for name in NAMES) == sorted(names)
    assert not {name.casefold() for name in NAMES} & set(BY_NAME), "a code would hide the word"


def test_meanings_are_clauses_and_more_are_sentences() -> None:
    for word in WORDS:
        with naming(word.names):
            assert not word.meaning.endswith(".") and "|" not in word.meaning + word.more
            assert not word.more or word.more.endswith(".")
    trade = GLOSSARY[0]
    assert trade.title == "Words of the trade"
    assert all(word.more for word in trade.words)


@pytest.mark.parametrize(
    ("name", "word"),
    [("dli", "DLI"), ("PAR", "PPFD"), ("burn in", "burn-in"), ("Burn-In", "burn-in"), ("tubes", "tube"),
     ("full_light_hours", "full-light hours"), ("  converter   code ", "converter code"), ("dusk", "dawn"),
     ("level_percent", "level"), ("kWh", "energy"), ("watts", "energy")],
)  # fmt: skip
def test_a_word_is_found_in_the_forms_in_which_it_is_written(name: str, word: str) -> None:
    found = find_word(name)
    assert found is not None and found.names[0] == word


@pytest.mark.parametrize("name", ["", "s", "dl", "burn"])
def test_what_is_no_word_is_not_found(name: str) -> None:
    assert find_word(name) is None


def test_figures_are_those_of_their_formulas() -> None:
    """By hand: sums of constant light, a square law, tanh of Jassby & Platt 1976, compound loss."""
    dli = 200 * 10 * 3600 / 1e6
    assert f"= {dli:g} mol" in more("DLI")
    hours = 0.8 * 11
    assert f"are {hours:g} full-light hours" in more("full-light hours")
    assert f"= {hours * 130 * 0.0036:.2f} mol" in more("full-light hours")
    assert f"tanh 1 = {math.tanh(1) * 100:.0f} %" in more("Ek")
    assert math.tanh(2) / math.tanh(1) == pytest.approx(1.25, abs=0.02)
    assert f"{100 * (1 - 0.014) ** 9:.0f} % are left after 9000 hours" in more("depreciation")
    assert f"one code is {10_000 / 2**12:.1f} mV" in more("converter")
    volts = 10 * math.sqrt(0.8)  # from 1 % at 1 V to 100 % at 10 V: the root of light is volts / 10
    assert f"80 % light is {volts * 10:.0f} % level" in more("light")
    assert f"(8.9 V) gives {0.89**2 * 100:.0f} % light" in more("level")
    night = find_word("nights")
    assert night is not None and f"less than {NIGHT_PPFD_UMOL_M2_S:g} µmol" in night.meaning


def more(name: str) -> str:
    word = find_word(name)
    assert word is not None
    return word.more


def test_the_page_is_that_of_the_glossary() -> None:
    page = (ROOT / "docs" / "words.md").read_text(encoding="utf-8")
    assert page == glossary_markdown(), "photoperiod explain --markdown > docs/words.md"
