"""The cautions name every danger, wherever they are shown."""

from __future__ import annotations

import pytest

from photoperiod.formats.cautions import CAUTIONS
from tests.conftest import ROOT


@pytest.mark.parametrize(
    "danger",
    [
        "mains",
        "residual-current",
        "FULL light",
        "basic insulation",
        "unplug",
        "mercury",
        "UV",
        "PPFD",
    ],
)
def test_every_danger_is_named(danger: str) -> None:
    assert danger.lower() in " ".join(CAUTIONS).lower()


def test_the_first_and_the_last_stand_alone() -> None:
    """The command line prints these two, so that each must be a whole sentence."""
    for caution in (CAUTIONS[0], CAUTIONS[-1]):
        assert caution[0].isupper() and caution.endswith(".")


def test_the_page_for_users_says_what_kills() -> None:
    page = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert "basic insulation" in page and "unplug" in page.lower()
