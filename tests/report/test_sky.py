"""Pages of the sky: text, CSV and JSON say the same, and what does not happen has no time."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from dataclasses import replace
from functools import cache
from importlib import resources

import pytest

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dates import DateSpan
from photoperiod.report.sky import (
    MOON_EVENTS,
    SUN_EVENTS,
    SkyDate,
    render_csv,
    render_json,
    render_text,
    sky_dates,
)
from tests.conftest import changed, load

LISBON = "place: {latitude: 38.72, longitude: -9.14, time_zone: Europe/Lisbon}\n"
ATLANTA = "place: {latitude: 33.7667, longitude: -84.4167, time_zone: America/New_York}\n"
TROMSO = "place: {latitude: 69.65, longitude: 18.96, time_zone: Europe/Oslo}\n"


@cache
def sky(place: str, first: dt.date, count: int) -> tuple[DayCurves, list[SkyDate]]:
    outcome = load("test.yaml", changed(("controller:\n", place + "controller:\n")).encode())
    assert outcome.schedule is not None, list(outcome.report)
    days = DayCurves(outcome.schedule)
    return days, sky_dates(days, DateSpan(first, first + dt.timedelta(days=count - 1)))


def test_times_are_on_the_plans_clock() -> None:
    # Lisbon, 2027-06-21, standard time: sunrise about 05:12, sunset about 20:05 (almanac: 06:12 and
    # 21:05 of summer time), the noon sun at 90 - 38.72 + 23.44 = 74.7°.
    days, dates = sky(LISBON, dt.date(2027, 6, 21), 1)
    head, row = render_text("A reef", days, dates).splitlines()[3:5]
    cells = dict(zip(columns_of(head), columns_of(row), strict=True))
    assert cells["date"] == "2027-06-21"
    assert abs(minutes(cells["sunrise"]) - minutes("05:12")) <= 1
    assert abs(minutes(cells["sunset"]) - minutes("20:05")) <= 1
    assert cells["noon alt."] == "74.7°"
    assert abs(minutes(cells["day"]) - minutes("14:53")) <= 1


@pytest.mark.parametrize(
    ("seconds", "printed"),
    [
        ([21_629], "06:00"),
        ([21_630], "06:01"),  # half a minute is rounded up
        ([21_659], "06:01"),
        ([86_369], "23:59"),
        ([86_399], "24:00"),  # it stays on its date
        ([29, 86_370], "00:00/24:00"),
        ([], "-"),
    ],
)
def test_times_are_printed_to_the_nearest_minute(seconds: list[int], printed: str) -> None:
    days, (date,) = sky(LISBON, dt.date(2027, 6, 21), 1)
    moved = replace(date, events=date.events | {"sunrise": seconds})
    head, row = render_text("A reef", days, [moved]).splitlines()[3:5]
    assert dict(zip(columns_of(head), columns_of(row), strict=True))["sunrise"] == printed


def test_times_of_a_year_are_not_early_beside_those_of_an_almanac() -> None:
    # "Rise and Set for the Sun for 2007, Atlanta, Georgia", USNO, as carried along in the ephem library.
    # The sun is right within ten seconds, so that one time in six may be rounded the other way; cut off
    # at the minute, half of all times would be early.
    days, dates = sky(ATLANTA, dt.date(2007, 1, 1), 365)
    lines = render_text("Atlanta", days, dates).splitlines()[3:369]
    head = columns_of(lines[0])
    printed = [dict(zip(head, columns_of(line), strict=True)) for line in lines[1:]]
    path = resources.files("ephem").joinpath("tests", "usno", "riset_sun.txt")
    off = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if not re.match(r"\d\d  ", line):
            continue
        for month in range(1, 13):
            cell = line[4 + 11 * (month - 1) : 13 + 11 * (month - 1)].split()
            for name, text in zip(("sunrise", "sunset"), cell, strict=False):
                row = printed[dt.date(2007, month, int(line[:2])).timetuple().tm_yday - 1]
                off.append(minutes(row[name]) - minutes(f"{text[:2]}:{text[2:]}"))
    assert len(off) == 730
    assert set(off) <= {-1, 0, 1}
    assert off.count(0) >= 5 / 6 * len(off)


def columns_of(line: str) -> list[str]:
    return [cell.strip() for cell in line.split("  ") if cell.strip()]


def minutes(clock: str) -> int:
    hours, minute = clock.split(":")
    return 60 * int(hours) + int(minute)


def test_the_page_says_whose_sky_it_is() -> None:
    days, dates = sky(LISBON, dt.date(2027, 6, 21), 1)
    title, whose = render_text("A \x1b[31mreef", days, dates).splitlines()[:2]
    assert title == "A \\x1b[31mreef"
    assert whose.startswith("the sky of 38.72° N, 9.14° W; times on the plan's clock (standard)")


def test_what_does_not_happen_has_no_time() -> None:
    # Tromsø, polar night and polar day (common knowledge, no source).
    for month, is_up in ((12, False), (6, True)):
        days, dates = sky(TROMSO, dt.date(2027, month, 21), 1)
        (only,) = dates
        assert only.events["sunrise"] == only.events["sunset"] == []
        assert len(only.events["noon"]) == 1
        assert only.day_s == (86_400 if is_up else 0)
        assert (only.highest_deg > 0) is is_up
        (row,) = csv.DictReader(io.StringIO(render_csv(dates)))
        assert (row["sunrise"], row["day_seconds"]) == ("", str(only.day_s))
        assert " - " in render_text("Cold", days, dates)
        data = json.loads(render_json(days, dates))
        assert data["dates"][0]["events"]["sunrise"] == []


@pytest.mark.parametrize("count", [1, 3])
def test_csv_and_json_say_the_same(count: int) -> None:
    days, dates = sky(LISBON, dt.date(2027, 10, 30), count)
    rows = list(csv.DictReader(io.StringIO(render_csv(dates), newline="")))
    data = json.loads(render_json(days, dates))
    assert [row["date"] for row in rows] == [each["date"] for each in data["dates"]]
    assert len(rows) == count
    for row, each in zip(rows, data["dates"], strict=True):
        for name in (*SUN_EVENTS, *MOON_EVENTS):
            key = name.replace(" ", "_")
            assert row[key] == "/".join(each["events"][key])
        assert int(row["day_seconds"]) == each["day_s"]
        assert float(row["moon_lit_fraction"]) == pytest.approx(each["moon_lit_fraction"], abs=1e-4)
    assert (data["latitude_deg"], data["longitude_deg"]) == (38.72, -9.14)


def test_phase_of_the_moon() -> None:
    # Full moon of 2027-12-13, 16:09 UTC; new moon of 2027-12-27, 20:12 UTC (almanacs).
    _, dates = sky(LISBON, dt.date(2027, 12, 13), 15)
    full, new = dates[0], dates[-1]
    assert full.fraction > 0.99 and full.brightness > 0.85 and full.phase_angle_deg < 10
    assert new.fraction < 0.01 and new.brightness < 0.001 and new.phase_angle_deg > 170


def test_changes_of_a_civil_clock_are_listed() -> None:
    # Lisbon's clock goes back on 2027-10-31 at 01:00 UTC (IANA). The controller follows it.
    outcome = load(
        "test.yaml",
        changed(
            ("controller:\n  clock: standard", LISBON + "controller:\n  clock: civil")
        ).encode(),
    )
    assert outcome.schedule is not None
    days = DayCurves(outcome.schedule)
    dates = sky_dates(days, DateSpan(dt.date(2027, 10, 30), dt.date(2027, 11, 1)))
    assert "2027-10-31 01:00 UTC: the controller's clock goes back by 60 min" in render_text(
        "A", days, dates
    )
    (change,) = json.loads(render_json(days, dates))["clock_changes"]
    assert (change["offset_before_s"], change["offset_after_s"]) == (3_600, 0)
