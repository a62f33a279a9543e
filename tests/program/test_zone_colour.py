"""The colour of a zone is that of its channels, weighed by their doses."""

from __future__ import annotations

import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.zone_colour import ZoneColour, zone_colour
from photoperiod.report.zone_colour import zone_colour_lines
from tests.program.bench import WORKED, scheduled

#: A second channel of the same day, with another light and another spectrum.
SECOND = (
    WORKED[WORKED.index("  blue:") :].replace("blue:", "red:").replace("crest: 130", "crest: 65")
)
FULL = "    full_ppfd: {zones: {crest: 130}}\n"
AT_450 = "    spectrum: {kind: led, centre_nm: 450, width_nm: 5}\n"
AT_650 = "    spectrum: {kind: led, centre_nm: 650, width_nm: 5}\n"


def of(first: str, second: str, full: str = "crest: 65") -> tuple[ZoneColour | None, list[str]]:
    text = WORKED.replace(FULL, FULL + first)
    text += SECOND.replace("    day:", f"{second}    day:").replace("crest: 65", full)
    program = compile_program(scheduled(text), None)
    return zone_colour(program.tables[0], "crest"), zone_colour_lines(program)


def test_channels_count_by_their_doses() -> None:
    # by hand: 130 and 65 over the same day are two parts of blue and one of red
    colour, lines = of(AT_450, AT_650)
    assert colour is not None and colour.thirds == pytest.approx((2 / 3, 0, 1 / 3), abs=1e-6)
    assert lines == [
        "crest: 66.7 % of its photons at 400-500 nm, 0 % at 500-600, 33.3 % at 600-700"
    ]


def test_a_channel_without_a_spectrum_leaves_it_unknown() -> None:
    colour, lines = of(AT_450, "")
    assert colour == ZoneColour(thirds=None, usable=None, unknown=("red",))
    assert lines == ["crest: its colours are not known, because red has no `spectrum`"]


def test_a_channel_that_gives_the_zone_nothing_has_no_say() -> None:
    colour, _ = of(AT_450, "", "crest: 0")
    assert colour is not None and colour.thirds == pytest.approx((1, 0, 0), abs=1e-6)


def test_without_any_spectrum_there_is_nothing() -> None:
    assert of("", "") == (None, [])
