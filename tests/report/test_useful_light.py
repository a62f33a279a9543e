"""The lines of the summary on photosynthesis."""

from __future__ import annotations

import pytest

from photoperiod.formats import summary_json
from photoperiod.report.summary import render_summary
from photoperiod.report.useful_light import useful_light_lines
from photoperiod.source.json_schema import validate
from tests.conftest import changed, compiled


def test_a_square_day_by_hand() -> None:
    # 130 × 1.0 from 10:00 to 20:00, Ek 65: 10 h at twice Ek. Half of the dose is above Ek, and
    # tanh(2) = 0.9640 of 10 h is 9.64 h (Jassby & Platt 1976).
    text = changed(
        ("dli: [3, 5]", "ek_ppfd: 65"),
        ("{start: 09:00, minutes: 60}", "{start: 10:00, minutes: 0}"),
        ("{end: 21:00, minutes: 60}", "{end: 20:00, minutes: 0}"),
        ("light_percent: 80", "light_percent: 100"),
    )
    program = compiled(text).program
    assert program is not None
    # the table falls from full to dark within the last minute, so that some seconds are missing
    assert useful_light_lines(program) == [
        "crest: photosynthesis has at least half of its most from 10:00 to 19:59; 9 h 59 min at Ek (65)"
        " or above, 50 % of the dose is above it; worth 9.63 h of the most"
    ]
    assert useful_light_lines(program)[0][:60] in render_summary(program, [])
    data = summary_json.summary_data(program, [])
    assert validate(data, "summary")[0] == []
    useful = data["tables"][0]["zones"]["crest"]["useful_light"]
    assert useful["begins_at"] == "10:00"
    assert "19:59:00" < useful["ends_at"] < "20:00:00"
    assert useful["hours_above_ek"] == pytest.approx(10, abs=60 / 3600)
    assert useful["dose_above_ek_percent"] == pytest.approx(50, abs=0.1)


def test_too_little_light_is_said() -> None:
    program = compiled(changed(("dli: [3, 5]", "ek_ppfd: 500"))).program
    assert program is not None
    (line,) = useful_light_lines(program)
    assert "never has half of its most" in line


def test_without_ek_there_is_nothing() -> None:
    program = compiled(changed()).program
    assert program is not None
    assert useful_light_lines(program) == []
    assert (
        summary_json.summary_data(program, [])["tables"][0]["zones"]["crest"]["useful_light"]
        is None
    )
