"""The cautions name every danger, wherever they are shown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.formats.cautions import CAUTIONS, cautions_of
from tests.conftest import ROOT, changed, load


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


def test_light_that_nobody_has_read_is_one_more_caution() -> None:
    schedule = load("test.yaml", changed().encode()).schedule
    assert schedule is not None
    assert cautions_of(schedule) == CAUTIONS
    blue = replace(schedule.channels["blue"], beyond_readings=("crest", "sand"))
    told = cautions_of(replace(schedule, channels={"blue": blue}))
    assert (told[:-2], told[-1]) == (CAUTIONS[:-1], CAUTIONS[-1])
    assert told[-2].startswith(
        "Light in crest and sand lies beyond all readings at some points: there"
    )
