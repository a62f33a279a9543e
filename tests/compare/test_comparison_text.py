"""A comparison as JSON and as text."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from photoperiod.compare.comparison_text import render_json, render_text
from photoperiod.compare.model import Comparison, Finding, Result
from photoperiod.formats.table import read_table
from photoperiod.source.json_schema import validate
from tests.compare.logs import (
    DAY_S,
    START,
    Compare,
    log,
)


def test_the_verdict_as_json_has_the_numbers(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=2), "--format", "json")
    data = json.loads(out)
    assert code == 0 and data["findings"] == []
    assert validate(data, "comparison")[0] == []
    bad = json.loads(compare(log(table, lambda n, v, r: (v, True)), "--format", "json")[1])
    assert bad["findings"] and validate(bad, "comparison")[0] == []
    assert (set(data["channels"]), set(data["zones"])) == ({"blue"}, {"crest"})
    dates = data["channels"]["blue"]["dates"]
    assert list(dates) == ["2027-03-02", "2027-03-03"]
    assert dates["2027-03-02"]["given"] == pytest.approx(dates["2027-03-02"]["planned"], rel=0.002)


def test_a_comparison_for_people(table: Path) -> None:
    held = read_table("table.json", table.read_bytes())
    first = START.timestamp()
    comparison = Comparison(
        clock=held.clock(None),
        first_unix_s=first,
        last_unix_s=first + DAY_S,
        clock_ahead_s=12.34,
        results=(
            Result(subject="blue", is_zone=False, unit="full-light hours", covered_s=5400.0, given=4.5,
                   planned=5.0, worst=0.123, worst_unix_s=first),
            Result(subject="crest", is_zone=True, unit="mol m⁻²", covered_s=5400.0, given=1.0,
                   planned=0.0, worst=None, worst_unix_s=None),
            Result(subject="sand", is_zone=True, unit="mol m⁻²", covered_s=0.0, given=0.0,
                   planned=0.0, worst=0.0, worst_unix_s=None),
        ),
        findings=(Finding("PHO602", "blue", "too \x1b little"),
                  Finding("PHO609", "", "start", is_warning=False)),
    )  # fmt: skip
    assert render_text(held, comparison).splitlines() == [
        "Test bench: the log of 2027-03-02T00:00:00-01:00 to 2027-03-03T00:00:00-01:00",
        "",
        "  blue: 4.50 of 5.00 full-light hours (-10.0 %) in 1 h 30 min, worst deviation 12.3 % of full",
        "  crest: 1.00 of 0.00 mol m⁻² (none planned) in 1 h 30 min",
        "  sand: nothing compared",
        "",
        "warning PHO602 dose-off: blue: too \\x1b little",
        "note PHO609 player-event: start",
        "1 warning",
    ]
    data = json.loads(render_json(held, comparison))
    assert (data["from"], data["clock_ahead_seconds"]) == ("2027-03-02T01:00:00Z", 12.3)
    assert data["channels"]["blue"]["worst_deviation_percent"] == 12.3
    assert data["zones"]["crest"]["worst_at"] is None
    assert [f["subject"] for f in data["findings"]] == ["blue", None]
