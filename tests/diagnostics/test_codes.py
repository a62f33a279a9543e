"""The table of codes: every entry is whole, and nothing in it stands twice."""

from __future__ import annotations

import re

from photoperiod.diagnostics.codes import BY_NAME, CODES
from tests.conftest import naming


def test_every_code_explains_itself() -> None:
    assert len(CODES) > 100
    for code, entry in CODES.items():
        with naming(code):
            assert entry.code == code
            assert re.fullmatch(r"PHO[0-9]{3}", code)
            assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", entry.name)
            assert entry.severity in ("error", "warning", "note")
            assert entry.title
            assert entry.explanation.endswith(".")
            assert "  " not in entry.explanation


def test_names_of_codes_differ() -> None:
    assert len({entry.name for entry in CODES.values()}) == len(CODES)
    assert {BY_NAME[entry.name] for entry in CODES.values()} == set(CODES.values())


def test_only_findings_of_a_compiled_table_can_be_accepted() -> None:
    hard = {entry.code for entry in CODES.values() if entry.is_hard}
    assert hard
    for code in hard:
        with naming(code):
            assert code.startswith("PHO4")
            assert CODES[code].severity == "error"


def test_an_explanation_says_more_than_its_title() -> None:
    for entry in CODES.values():
        words = set(re.findall(r"[a-z0-9]+", entry.explanation.lower()))
        new = words - set(re.findall(r"[a-z0-9]+", entry.title.lower()))
        assert len(new) >= 9, (entry.code, entry.explanation)


def test_an_extra_is_told_as_the_checkout_has_it_first_and_then_by_name() -> None:
    told = [entry for entry in CODES.values() if "extra `" in entry.explanation]
    assert {entry.code for entry in told} == {
        "PHO508",
        "PHO514",
        "PHO515",
        "PHO517",
        "PHO521",
        "PHO916",
    }
    for entry in CODES.values():
        by_name = re.search(r"'photoperiod\[([a-z,]+)\]'", entry.explanation)
        with naming(entry.code):
            assert (by_name is not None) == (entry in told)
            if by_name is not None:
                way = f"`pip install '.[{by_name[1]}]'` in the checkout"
                assert way in entry.explanation[: by_name.start()]
