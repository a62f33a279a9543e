"""The overview for programs, read back by a reader of its own. Expected values are worked out by hand."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import jsonschema
import pytest

from photoperiod.api import ScheduleError, load_text, load_with
from photoperiod.program.dates import DateSpan
from photoperiod.report.overview import (
    TankOverview,
    overview_of,
    overview_of_failed,
    overview_of_refused,
    render_overview,
)
from photoperiod.report.overview_json import render_overview_json
from tests.conftest import ROOT, SCHEDULE, changed, compiled

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 10))

TUBE = "  blue-a: {watts: 54}"

SCHEMA = json.loads((ROOT / "schemas" / "overview.schema.json").read_text(encoding="utf-8"))


def read_back(*tanks: TankOverview) -> list[dict[str, Any]]:
    """Return the tanks of an overview, as a stranger reads them: by the schema and the json module alone."""
    data = json.loads(render_overview_json([tank.data for tank in tanks], MARCH))
    jsonschema.Draft202012Validator(SCHEMA).validate(data)
    assert (data["format"], data["from_date"], data["to_date"]) == (
        "photoperiod-overview", "2027-03-01", "2027-03-10",
    )  # fmt: skip
    found: list[dict[str, Any]] = data["tanks"]
    return found


def overview(*changes: tuple[str, str]) -> TankOverview:
    outcome = compiled(changed(*changes), MARCH)
    assert outcome.program is not None
    return overview_of(outcome.program, outcome.report)


def test_a_tank_has_its_doses_and_peaks_beside_its_limits() -> None:
    (tank,) = read_back(overview())
    assert (tank["file"], tank["tank"], tank["title"]) == ("test.yaml", "bench", "Test bench")
    assert tank["is_written"] and tank["not_compiled"] is None
    crest = tank["zones"].pop("crest")
    assert tank["zones"] == {}
    # two ramps of an hour count half: 130 × 0.8 × 11 h × 3,600 s = 4.12 mol/m² by the plan
    assert crest["dli_mol_m2_d"] == [pytest.approx(130 * 0.8 * 11 * 3600 / 1e6, rel=0.015)] * 2
    # 89 % level is code 3645, 8.8989 V; (0.1 + 0.9 × 7.8989 / 9)² × 130 = 102.9
    assert crest["peak_ppfd_umol_m2_s"] == pytest.approx(102.9, abs=0.05)
    assert (crest["dli_band"], crest["ppfd_max"], crest["light_unknown_of"]) == ([3, 5], 200, [])
    (tank,) = read_back(overview(("{dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}", "{}")))
    assert (tank["zones"]["crest"]["dli_band"], tank["zones"]["crest"]["ppfd_max"]) == (None, None)


def test_the_next_load_and_the_next_tube_have_dates() -> None:
    (tank,) = read_back(overview())
    assert (tank["next_load"], tank["next_tube"]) == (None, None)
    owes = (TUBE, "  blue-a: {watts: 54, fitted: 2027-03-03, burn_in_full_hours: 12}")
    (tank,) = read_back(overview(owes))
    load = tank["next_load"]
    # light of the date before ends at 21:00; the new table lights at 09:00 or later
    assert (load["first_date"], load["not_before"]) == ("2027-03-03", "2027-03-02T21:00")
    assert "2027-03-03T09:00" <= load["not_after"] < "2027-03-03T21:00"
    assert tank["next_tube"] == {
        "errand": "fit", "date": "2027-03-03", "tube": None, "due_by": None,
        "words": "fit blue-a on 2027-03-03",
    }  # fmt: skip
    # 12 h a day from 1 March on: 60 h are over on the fifth date
    due = (TUBE, "  blue-a: {watts: 54, lit_hours: 40, replace_after_hours: 100}")
    (tank,) = read_back(overview(due))
    told = {key: tank["next_tube"][key] for key in ("errand", "date", "tube", "due_by")}
    assert told == {"errand": "replace", "date": "2027-03-05", "tube": "blue-a", "due_by": "hours"}


def test_findings_are_counted_and_what_is_not_written_is_told() -> None:
    fine, hot = read_back(overview(), overview(("ppfd_max: 200", "ppfd_max: 50")))
    assert fine["findings"] == {
        "errors": 0,
        "warnings": 0,
        "accepted": 0,
        "notes": 0,
        "gravest": None,
    }
    assert not hot["is_written"] and hot["not_compiled"] is None
    assert hot["findings"]["errors"] == 1
    assert hot["findings"]["gravest"] == {"code": "PHO402", "name": "ppfd-above-most"}


def test_a_damaged_file_has_its_first_error_with_its_place() -> None:
    text = changed(("kind: ramps", "kind: rams"), ("bits: 12", "bits: 99"))
    with pytest.raises(ScheduleError) as fault:
        load_text("bad.yaml", text.encode())
    refused, failed = read_back(
        overview_of_refused(fault.value.report), overview_of_failed("gone.yaml", "can't read it")
    )
    lines = text[: text.index("99")].split("\n")
    why = refused["not_compiled"]
    place = (why["file"], why["line"], why["column"])
    assert place == ("bad.yaml", len(lines), len(lines[-1]) + 1)
    assert (refused["tank"], refused["zones"], refused["is_written"]) == (None, None, False)
    assert refused["findings"]["errors"] == 2
    assert failed["not_compiled"]["message"] == "can't read it"
    assert (failed["file"], failed["findings"]["errors"]) == ("gone.yaml", 1)


def test_an_error_in_a_file_of_parts_is_told_there() -> None:
    split = SCHEDULE.index("ballasts:")
    own = "schedule: 1\nparts: p.yaml\n" + SCHEDULE[split:]
    parts = "parts: 1\n" + SCHEDULE[SCHEDULE.index("controller:") : split].replace("12,", "99,")
    with pytest.raises(ScheduleError) as fault:
        load_with("a.yaml", own.encode(), lambda *_: parts.encode(), lambda name: f"hall/{name}")
    found = overview_of_refused(fault.value.report)
    (tank,) = read_back(found)
    line = parts[: parts.index("99,")].count("\n") + 1
    assert (tank["not_compiled"]["file"], tank["not_compiled"]["line"]) == ("hall/p.yaml", line)
    assert f"NOT COMPILED: hall/p.yaml, line {line}: " in render_overview([found])
