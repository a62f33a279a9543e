"""A line for each tank. Expected values are worked out by hand beside them."""

from __future__ import annotations

import datetime as dt

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
    (zone,) = overview().zones
    id, dose, *words = zone.split(" ", 6)
    # two ramps of an hour count half: 130 × 0.8 × 11 h × 3,600 s = 4.12 mol/m² by the plan
    assert (id, float(dose)) == ("crest", pytest.approx(130 * 0.8 * 11 * 3600 / 1e6, rel=0.015))
    # 89 % level is code 3645, 8.8989 V; (0.1 + 0.9 × 7.8989 / 9)² × 130 = 102.9
    assert " ".join(words) == "inside 3 to 5, peak 102.9, limit 200 kept"
    (zone,) = overview(("{dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}", "{dli: [9, 14]}")).zones
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
    assert hot.zones[0].endswith("limit 50 passed")
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
    assert found.zones[0].startswith(f"NOT COMPILED: line {line}: ")
    assert found.zones[0].endswith(", and 1 more error")
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


def test_where_there_is_no_room_a_tank_has_some_lines() -> None:
    lines = render_overview([overview()], 60).splitlines()
    assert lines[0] == "bench"
    assert lines[1].startswith("  zones: DLI")
    assert max(map(len, lines)) <= 60


def test_zones_that_nobody_told_are_not_silently_fine() -> None:
    text = SCHEDULE.replace("  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}\n", "")
    text = text.replace("zones:\n", "").replace("    full_ppfd: {zones: {crest: 130}}\n", "")
    outcome = compiled(text, MARCH)
    assert outcome.program is not None
    assert overview_of(outcome.program, outcome.report).zones == ("no zones: no dose is known",)
