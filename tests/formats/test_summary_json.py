"""``summary.json``: the numbers of the days."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from photoperiod.formats import summary_json
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.report.summary import render_summary
from photoperiod.source.json_schema import validate
from photoperiod.text import clock_text
from tests.conftest import SCHEDULE, changed, compiled


def test_it_has_the_shape_of_its_schema(march: tuple[Program, dict[str, bytes]]) -> None:
    _, files = march
    assert validate(json.loads(files["summary.json"]), "summary")[0] == []


def test_loads_and_windows_are_named(march: tuple[Program, dict[str, bytes]]) -> None:
    program, files = march
    data = json.loads(files["summary.json"])
    assert [load["load_before"] for load in data["loads"]] == [
        str(t.span.first) for t in program.tables if t.span
    ]
    assert data["tables"][1]["undimmed"] == {
        id: {"start": clock_text(start), "end": clock_text(stop)}
        for id, (start, stop) in program.tables[1].plan.windows.items()
    }


def test_the_dose_is_that_of_the_worked_path() -> None:
    """By hand: 0.8 × 11 h = 8.8 full-light hours; 8.8 × 130 × 0.0036 = 4.118 mol m⁻² d⁻¹."""
    data = summary_json.summary_data(compiled(SCHEDULE).program, [])
    channel = data["tables"][0]["channels"]["blue"]
    assert channel["full_light_hours"]["plan"] == pytest.approx(8.8, abs=1e-4)
    assert channel["dli_mol_m2_d"]["crest"]["plan"] == pytest.approx(4.1184, abs=1e-4)
    assert data["tables"][0]["zones"]["crest"]["dli_mol_m2_d"]["replay"] == pytest.approx(
        4.118, abs=0.1
    )
    assert channel["full"]["converter_code"] == 4095


def test_findings_stand_there_with_their_line() -> None:
    outcome = compiled(changed(("ppfd_max: 200", "ppfd_max: 100")))
    findings = outcome.report.sorted()
    (found,) = [f for f in summary_json.summary_data(outcome.program, findings)["findings"]
                if f["code"] == "PHO402"]  # fmt: skip
    assert found["severity"] == "error"
    # the finding is of a zone; its line is that of `crest` or of what stands in it
    assert "crest" in found["path"]
    assert (
        found["line"]
        == SCHEDULE.splitlines().index("  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}")
        + 1
    )


def test_it_says_what_is_not_guarded() -> None:
    data = summary_json.summary_data(compiled(SCHEDULE).program, [])
    # `crest` of this schedule has a dose, a limit and hours of darkness, and no limit of its rise
    assert data["not_guarded"] == [
        {
            "limits": ["ppfd_rise_per_minute_max"],
            "zones": ["crest"],
            "because": "no ppfd_rise_per_minute_max",
        }
    ]


def test_a_zone_names_the_channels_whose_light_is_not_known_there() -> None:
    text = changed(
        ("zones:\n  crest", "zones:\n  sand: {dark_hours_min: 8, ppfd_max: 20}\n  crest"),
        ("channels:\n  blue", "channels:\n  white:\n    ballast: pair\n    full_ppfd: {zones: {sand: 9}}\n"
         "    day: {kind: points, points: [{time: 10:00, light_percent: 50},"
         " {time: 12:00, light_percent: 50}]}\n  blue"),
    )  # fmt: skip
    program = compiled(text).program
    zones = summary_json.summary_data(program, [])["tables"][0]["zones"]
    assert {id: zone["light_unknown_of"] for id, zone in zones.items()} == {
        "sand": ["blue"],
        "crest": ["white"],
    }
    shown = render_summary(program, []).splitlines()
    (sand,) = (line for line in shown if line.startswith("sand"))
    assert "20 not shown to be kept" in sand
    assert "and that of blue" in sand


# In the Azores clocks go forward on 2027-03-28 and back on 2027-10-31 (IANA, file europe).
@pytest.mark.parametrize(
    ("date", "hours"),
    [(dt.date(2027, 3, 27), 24), (dt.date(2027, 3, 28), 23), (dt.date(2027, 10, 31), 25)],
)
def test_the_length_of_a_date_is_told(date: dt.date, hours: int) -> None:
    text = changed(
        ("title: Test bench\n", "title: Test bench\nplace: {latitude: 38.1, longitude: -29.5,"
         " time_zone: Atlantic/Azores}\n"),
        ("  clock: standard\n", "  clock: civil\n"),
    )  # fmt: skip
    program = compiled(text, DateSpan(date, date)).program
    assert program is not None
    data = summary_json.summary_data(program, [])
    assert [table["date_length_hours"] for table in data["tables"]] == [hours]
    assert validate(data, "summary")[0] == []
