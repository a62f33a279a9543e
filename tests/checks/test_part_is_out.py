"""A part is out: what is lost, made up, loaded and bought."""

from __future__ import annotations

import pytest

from photoperiod.api import compile
from photoperiod.checks.part_is_out import part_is_out
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program
from tests.changes.bench import ACCLIMATION, TEXT, scheduled, span
from tests.program.test_part_losses import BALLAST, OUT, STOPS, TUBED

CODE = "PHO443"

#: Both channels light the sand.
WIDE = TUBED.replace("zones: {crest: 120, sand: 0}", "zones: {crest: 120, sand: 60}")


def program(*changes: str, text: str = WIDE) -> Program:
    return compile_program(scheduled(*changes, text=text), span("2027-05-01", "2027-05-04"))


def message(*changes: str, text: str = WIDE) -> tuple[str, str]:
    (found,) = part_is_out(program(*changes, text=text))
    assert found.code == CODE
    assert found.path == ("changes", len(changes) - 1, "from_date")
    return found.message, found.help


def test_a_half_of_a_pair() -> None:
    told, help = message(OUT)
    # by hand: blue 8.88 h × 60 × 0.0036 = 1.918, and 60 % of it are left
    assert (
        "with tube 'blue-b' out, channel 'blue' gives 60 % of its light from 2027-05-03 on" in told
    )
    assert "if its ballast goes on: some stop when half of a pair is out" in told
    assert "zone 'crest' gets" in told and "zone 'sand' gets" in told
    assert "nothing is loaded" in help
    assert "a tube of 36 W like it is needed" in help
    assert "Unplug" in help


def test_what_the_others_make_up_was_tried() -> None:
    _, help = message(OUT)
    assert "multiply the light of 'white' by" in help
    # white has 70 %: 100 / 70 is 1.42, and the peak may rise by 25 %
    factor = float(help.split("by ")[1].split(",")[0])
    assert 1 < factor <= 1.42
    brighter = WIDE.replace("light_percent: 70", f"light_percent: {70 * factor}")
    made_up, lost = (program(OUT, text=text).tables[-1] for text in (brighter, WIDE))
    whole = program(OUT).tables[0]
    for id in ("crest", "sand"):
        assert lost.zones[id].dli.replay < made_up.zones[id].dli.replay
        assert made_up.zones[id].dli.replay <= whole.zones[id].dli.replay * 1.005
        assert made_up.zones[id].peak_ppfd <= lost.zones[id].peak_ppfd * 1.25


def test_a_ballast_that_stops() -> None:
    told, help = message(STOPS)
    assert "channel 'blue' gives 0 % of its light from 2027-05-03 on, as its ballast stops" in told
    told, help = message(BALLAST)
    assert "with a ballast out" in told
    assert "a ballast of the kind 'pair' is needed" in help


def test_where_nobody_can_make_it_up() -> None:
    # only blue lights the sand, and the crest may not change by much
    alone = TUBED.replace("zones: {crest: 120, sand: 0}", "zones: {crest: 0, sand: 0}")
    assert "no other channel lights these zones" in message(OUT, text=alone)[1]
    full = WIDE.replace("light_percent: 70", "light_percent: 100")
    assert "'white' can't make it up within the limits" in message(OUT, text=full)[1]


def test_on_changed_dates_no_advice_is_given() -> None:
    acclimated = ACCLIMATION.replace("2027-04-01", "2027-04-28")
    assert "on dates that go by the plan" in message(acclimated, OUT)[1]


def test_outside_its_dates_nothing_is_told() -> None:
    schedule = scheduled(OUT, text=WIDE)
    assert list(part_is_out(compile_program(schedule, span("2027-04-01", "2027-05-02")))) == []
    assert list(part_is_out(compile_program(schedule, span("2027-06-01", "2027-06-02")))) == []


@pytest.mark.parametrize("change", [OUT, STOPS, BALLAST])
def test_the_whole_way_has_no_other_finding_of_errors(change: str) -> None:
    compiled = compile(scheduled(change, text=WIDE), (span("2027-05-01", "2027-05-04")))
    assert not compiled.report.has_errors
    assert CODE in {each.code for each in compiled.findings}


def test_a_schedule_without_parts_is_silent() -> None:
    assert (
        list(part_is_out(compile_program(scheduled(text=TEXT), span("2027-05-01", "2027-05-02"))))
        == []
    )


def test_a_band_allows_no_zone_that_lost_light_more_than_it_had() -> None:
    banded = WIDE.replace("crest: {ppfd_max", "crest: {dli: [1, 30], ppfd_max").replace(
        "sand: {ppfd_max", "sand: {dli: [1, 30], ppfd_max"
    )
    assert message(OUT, text=banded)[1] == message(OUT)[1]
