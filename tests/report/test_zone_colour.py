"""Sentences on the colour of zones."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.program.dated_tables import compile_program
from photoperiod.report.zone_colour import zone_colour_lines
from tests.program.bench import WORKED, scheduled

FULL = "    full_ppfd: {zones: {crest: 130}}\n"


def test_the_source_of_weights_is_named_and_safe_for_a_terminal() -> None:
    schedule = scheduled(
        WORKED.replace(FULL, FULL + "    spectrum: {kind: led, centre_nm: 450, width_nm: 5}\n")
    )
    blue = schedule.channels["blue"]
    assert blue.photon_shares is not None
    shares = replace(blue.photon_shares, usable=0.8)
    weighed = replace(
        schedule,
        channels={"blue": replace(blue, photon_shares=shares)},
        action_spectrum="Nobody, 1999\x1b[31m",
    )
    lines = zone_colour_lines(compile_program(weighed, None))
    assert lines[0].endswith("; 80 % usable")
    assert lines[1].startswith("Usable: by the action spectrum of Nobody, 1999")
    assert "\x1b" not in lines[1]
