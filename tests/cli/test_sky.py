"""``photoperiod sky``."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import ROOT, SCHEDULE, Run


@pytest.mark.parametrize("form", ["text", "csv", "json"])
def test_sky_lists_events_moon_and_clock_changes(run: Run, form: str) -> None:
    example = ROOT / "examples" / "natural-year.yaml"
    dates = ("--from", "2027-03-27", "--to", "2027-03-29")
    code, out, err = run("sky", example, *dates, "--format", form)
    assert code == 0 and err == ""
    again = run("sky", example, *dates, "--format", form)
    assert again[1] == out
    # By the ephem library's own finder (next_rising, next_setting; pressure 0, horizon -0:50 for the
    # sun's centre and -0:34 for the moon's limb), in UTC-1: sunrise 06:49:42, sunset 19:17:07, moonrise
    # 01:08:31.
    if form == "text":
        line = next(line for line in out.splitlines() if line.startswith("2027-03-28  "))
        assert "  06:50" in line and "  19:17" in line and "  01:0" in line
        assert "2027-03-28 01:00 UTC: the controller's clock goes forward by 60 min" in out
    elif form == "csv":
        rows = list(csv.DictReader(io.StringIO(out)))
        assert [row["date"] for row in rows] == ["2027-03-27", "2027-03-28", "2027-03-29"]
        for name, second in (("sunrise", 24_582), ("sunset", 69_427), ("moonrise", 4_111)):
            hours, minutes, seconds = (int(part) for part in rows[1][name].split(":"))
            assert abs(hours * 3600 + minutes * 60 + seconds - second) <= 10
    else:
        data = json.loads(out)
        assert data["zone_data"].startswith("tzdata ")
        assert data["clock_changes"] == [
            {"clock": "controller", "at": "2027-03-28T01:00:00+00:00",
             "offset_before_s": -3600, "offset_after_s": 0}
        ]  # fmt: skip
        assert data["dates"][0]["events"]["noon"]


def test_sky_in_the_polar_night_has_no_sunrise(run: Run) -> None:
    example = ROOT / "examples" / "polar-night.yaml"
    code, out, _ = run("sky", example, "--date", "2027-12-21", "--format", "json")
    assert code == 0
    (date,) = json.loads(out)["dates"]
    assert date["events"]["sunrise"] == date["events"]["sunset"] == [] and date["day_s"] == 0
    code, out, _ = run("sky", example, "--date", "2027-06-21", "--format", "json")
    assert json.loads(out)["dates"][0]["day_s"] == 86_400


def test_sky_needs_a_place_dates_and_a_known_year(run: Run, write: Callable[..., Path]) -> None:
    code, _, err = run("sky", write(SCHEDULE), "--date", "2027-03-02")
    assert code == 2 and "has no place" in err
    example = ROOT / "examples" / "natural-year.yaml"
    code, _, err = run("sky", example)
    assert code == 2 and "give --date" in err
    code, _, err = run("sky", example, "--date", "2150-01-01")
    assert code == 2 and "the sky is known from 1901 to 2099" in err
    code, _, err = run("compile", example, "-o", "nowhere")
    assert code == 2 and "days follow the sky, clocks differ" in err
