"""A line for each tank. Expected values are worked out by hand beside them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.api import ScheduleError, load_text
from photoperiod.program.dates import DateSpan
from photoperiod.report.overview import (
    TankOverview,
    overview_of,
    overview_of_failed,
    overview_of_refused,
    render_overview,
)
from tests.conftest import SCHEDULE, changed, compiled

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 10))

TUBE = "  blue-a: {watts: 54}"


def overview(*changes: tuple[str, str], span: DateSpan = MARCH) -> TankOverview:
    outcome = compiled(changed(*changes), span)
    assert outcome.program is not None
    return overview_of(outcome.program, outcome.report)


def test_a_zone_is_told_with_its_dose_and_its_peak_beside_what_is_allowed() -> None:
    zone = overview().in_words
    id, dose, *words = zone.split(" ", 6)
    # two ramps of an hour count half: 130 × 0.8 × 11 h × 3,600 s = 4.12 mol/m² by the plan
    assert (id, float(dose)) == ("crest", pytest.approx(130 * 0.8 * 11 * 3600 / 1e6, rel=0.015))
    # 89 % level is code 3645, 8.8989 V; (0.1 + 0.9 × 7.8989 / 9)² × 130 = 102.9
    assert " ".join(words) == "inside 3 to 5, peak 102.9, limit 200 kept"
    zone = overview(("{dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}", "{dli: [9, 14]}")).in_words
    assert zone.endswith("below 9 to 14, peak 102.9, no limit")


def test_the_table_of_the_first_date_counts_as_loaded() -> None:
    assert overview().next_load == "none up to 2027-03-10"
    owes = (TUBE, "  blue-a: {watts: 54, fitted: 2027-03-03, burn_in_full_hours: 12}")
    found = overview(owes)
    # light of the date before ends at 21:00
    assert found.next_load.startswith("between 2027-03-02 21:00 and 2027-03-03 ")
    assert found.next_tube == "fit blue-a on 2027-03-03"


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ("fitted: 2027-01-15, replace_after_months: 3", "blue-a is due on 2027-04-15 by its months"),
        ("fitted: 2026-01-15, replace_after_months: 3", "blue-a was due on 2026-04-15 by its months"),
        # 12 h a day from 1 March on: 60 h are over on the fifth date
        ("lit_hours: 40, replace_after_hours: 100", "blue-a is due on 2027-03-05 by its hours"),
        ("lit_hours: 40", "none told"),
    ],
)  # fmt: skip
def test_the_next_tube_is_the_first_that_is_due(told: str, words: str) -> None:
    assert overview((TUBE, f"  blue-a: {{watts: 54, {told}}}")).next_tube == words


def test_what_breaks_a_hard_limit_is_told_and_counted() -> None:
    hot = overview(("ppfd_max: 200", "ppfd_max: 50"))
    assert hot.in_words.endswith("limit 50 passed")
    assert not hot.is_fine
    assert hot.findings == "1 error (PHO402 ppfd-above-most)"
    fine = overview()
    assert (fine.is_fine, fine.findings) == (True, "none")
    text = render_overview([fine, hot])
    assert text.endswith("\n\n2 tanks, 1 with errors: no table is written for these\n")
    assert render_overview([fine]).endswith("\n\n1 tank, none with errors\n")


def test_a_damaged_file_says_where_and_why() -> None:
    text = changed(("kind: ramps", "kind: rams"), ("bits: 12", "bits: 99"))
    with pytest.raises(ScheduleError) as fault:
        load_text("bad.yaml", text.encode())
    found = overview_of_refused(fault.value.report)
    line = text[: text.index("bits: 99")].count("\n") + 1
    assert found.tank == "bad.yaml"
    assert found.in_words.startswith(f"NOT COMPILED: line {line}: ")
    assert found.in_words.endswith(", and 1 more error")
    assert found.findings.startswith("2 errors (PHO2")


def test_one_line_is_one_tank_whatever_its_words() -> None:
    odd = overview_of_failed("odd\nname\x1b[31m.yaml", "it is\nso")
    lines = render_overview([odd, overview()]).splitlines()
    assert len(lines) == 5  # head, two tanks, nothing, how many
    assert "\x1b" not in lines[1] and "NOT COMPILED" in lines[1]


def test_tanks_of_one_id_are_told_apart_by_their_files() -> None:
    text = render_overview([overview(), overview()])
    assert text.count("bench (test.yaml)") == 2
    assert "test.yaml" not in render_overview([overview()])


def tank(name: str, *zones: tuple[str, ...], instead: str = "") -> TankOverview:
    unknown = "not known" if instead else ""
    return TankOverview(
        file=f"{name}.yaml",
        tank=name,
        zones=zones,
        instead=instead,
        next_load=unknown or "between 2027-03-01 21:00 and 2027-03-02 09:00",
        next_tube=unknown or "none told",
        findings="1 note",
        is_fine=not instead,
        data={},
    )


CREST = ("crest", "7.95 to 7.96", "inside 7 to 11", "283.3", "350 kept")
SAND = ("sand", "2.84", "below 3 to 5", "102", "none")
TANKS = [
    tank("reef", CREST, SAND),
    tank("larvae", ("racks", "4", "no band", "99", "none")),
    tank(
        "a/long/name/of/a/file/in/some/folder/of/some/tanks/of/a/reef/station.yaml",
        instead="NOT COMPILED: x",
    ),
]

LINES = """\
tank    zone   DLI mol/m²    dose            peak µmol/m²s  limit
reef    crest  7.95 to 7.96  inside 7 to 11  283.3          350 kept  next load: between 2027-03-01 21:00 and 2027-03-02 09:00
        sand   2.84          below 3 to 5    102            none      next tube: none told
                                                                      findings: 1 note
larvae  racks  4             no band         99             none      next load: between 2027-03-01 21:00 and 2027-03-02 09:00
                                                                      next tube: none told
                                                                      findings: 1 note
a/long/name/of/a/file/in/some/folder/of/some/tanks/of/a/reef/station.yaml
                                                                      NOT COMPILED: x
                                                                      findings: 1 note

3 tanks, 1 with errors: no table is written for these
"""  # noqa: E501

LINES_BELOW = """\
tank
  zone   DLI mol/m²    dose            peak µmol/m²s  limit
reef
  crest  7.95 to 7.96  inside 7 to 11  283.3          350 kept
  sand   2.84          below 3 to 5    102            none
  next load: between 2027-03-01 21:00 and 2027-03-02 09:00
  next tube: none told
  findings: 1 note
larvae
  racks  4             no band         99             none
  next load: between 2027-03-01 21:00 and 2027-03-02 09:00
  next tube: none told
  findings: 1 note
a/long/name/of/a/file/in/some/folder/of/some/tanks/of/a/reef/station.yaml
  NOT COMPILED: x
  findings: 1 note

3 tanks, 1 with errors: no table is written for these
"""


def test_where_a_line_for_each_has_no_room_zones_have_one_and_the_rest_stands_beside() -> None:
    # zones take 70 columns, and 56 are the least for the rest
    assert render_overview(TANKS, 125) == LINES_BELOW
    assert render_overview(TANKS, 126) == LINES
    widest = max(map(len, render_overview(TANKS).splitlines()))
    assert render_overview(TANKS, widest) == render_overview(TANKS)
    assert render_overview(TANKS, widest - 1).splitlines()[0].startswith("tank    zone ")


def test_on_a_narrow_terminal_it_stands_below() -> None:
    assert render_overview(TANKS, 80) == LINES_BELOW
    for room in (60, 80, 125, 126, 200):
        lines = render_overview([*TANKS[:2], overview()], room).splitlines()
        assert max(map(len, lines)) <= room


def test_what_is_told_beside_zones_goes_on_below_itself() -> None:
    hot = replace(TANKS[0], findings="2 errors, 1 warning, 4 notes (PHO402 ppfd-above-most)")
    lines = render_overview([hot], 126).splitlines()
    # 56 columns: "findings: " and the words up to the code
    assert lines[3:5] == [
        f"{'':68}findings: 2 errors, 1 warning, 4 notes (PHO402",
        f"{'':70}ppfd-above-most)",
    ]


def test_tanks_without_zones_have_a_head_and_their_reason() -> None:
    lines = render_overview(TANKS[2:], 64).splitlines()
    assert lines[:2] == ["tank", "  zone  DLI mol/m²  dose  peak µmol/m²s  limit"]
    assert lines[3:5] == ["  NOT COMPILED: x", "  findings: 1 note"]


def test_zones_that_nobody_told_are_not_silently_fine() -> None:
    text = SCHEDULE.replace("  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}\n", "")
    text = text.replace("zones:\n", "").replace("    full_ppfd: {zones: {crest: 130}}\n", "")
    outcome = compiled(text, MARCH)
    assert outcome.program is not None
    assert overview_of(outcome.program, outcome.report).in_words == "no zones: no dose is known"
