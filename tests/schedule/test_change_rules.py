"""Changes that contradict each other, and changes that do nothing."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from photoperiod.api import ScheduleError, compile
from photoperiod.schedule.change_rules import words_of
from photoperiod.schedule.changes import PartOut
from tests.changes.bench import ACCLIMATION, CALM, DARK, MOVED, scheduled, text_with
from tests.conftest import load

PLAN = "{kind: other-day, from_date: 2027-04-01, day_plan: calm}"


def found(*changes: str, plans: str = "") -> list:
    return list(load("t.yaml", text_with(*changes, plans=plans).encode()).report)


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        (
            ACCLIMATION,
            ACCLIMATION.replace("04-01", "04-28"),
            "two acclimations scale channels 'blue' and 'white'",
        ),
        (
            f"{ACCLIMATION[:-1]}, zones: [crest]}}",
            f"{ACCLIMATION[:-1]}, zones: [sand]}}",
            "two acclimations scale channel 'blue' on 2027-04-01",
        ),
        (
            DARK,
            DARK.replace("06-07", "06-09"),
            "two changes darken channels 'blue' and 'white' on 2027-06-09",
        ),
        (MOVED, MOVED.replace("07-01", "07-03"), "two changes move the hours of"),
        (PLAN, PLAN, "two day plans are given to channel 'blue' on 2027-04-01"),
        (
            ACCLIMATION,
            PLAN.replace("04-01", "04-10"),
            "in the middle of an acclimation from 2027-04-01",
        ),
        (f"{PLAN[:-1]}, days: 9}}", ACCLIMATION, "in the middle of an acclimation"),
    ],
)
def test_both_lines_are_named(first: str, second: str, words: str) -> None:
    reported = found(first, second, plans=CALM if "calm" in first + second else "")
    (finding,) = reported
    assert finding.code == "PHO360"
    assert words in finding.message
    assert finding.path == ("changes", 1)
    (other,) = finding.related
    assert other.path == ("changes", 0)
    assert other.source_range is not None and finding.source_range is not None
    assert other.source_range.line == finding.source_range.line - 1


@pytest.mark.parametrize(
    "changes",
    [
        (ACCLIMATION, ACCLIMATION.replace("04-01", "04-29")),
        (ACCLIMATION, DARK, MOVED),
        (DARK, DARK.replace("06-07", "06-10")),
        (MOVED, MOVED.replace("07-01", "07-04").replace("minutes: 30", "minutes: -30")),
        (PLAN, ACCLIMATION),
        (ACCLIMATION, PLAN.replace("04-01", "04-29")),
        (PLAN, PLAN.replace("04-01", "05-01")),
        (PLAN, f"{PLAN[:-1]}, days: 3}}".replace("04-01", "05-01")),
        (
            f"{ACCLIMATION[:-1]}, channels: [blue]}}",
            f"{ACCLIMATION[:-1]}, channels: [white]}}",
        ),
    ],
)
def test_changes_that_go_together(changes: tuple[str, ...]) -> None:
    plans = CALM if any("calm" in each for each in changes) else ""
    assert [(d.code, d.message) for d in found(*changes, plans=plans)] == []


def test_moonlight_alone_is_not_acclimated() -> None:
    text = text_with(f"{ACCLIMATION[:-1]}, channels: [moon]}}").replace(
        "changes:",
        "  moon:\n    ballast: pair\n    ballast_count: 1\n    full_ppfd: {zones: {crest: 1, sand: 1}}\n"
        "    moonlight: {kind: steady, light_percent: 2, start: 22:00, end: 02:00}\nchanges:",
    )
    (finding,) = load("t.yaml", text.encode()).report
    assert finding.code == "PHO361" and "moonlight only" in finding.message


def test_a_schedule_built_in_python_has_the_same_rules() -> None:
    schedule = scheduled(ACCLIMATION)
    twice = dataclasses.replace(schedule, changes=schedule.changes * 2)
    with pytest.raises(ScheduleError) as fault:
        compile(twice, dt.date(2027, 4, 1))
    assert [each.code for each in fault.value.findings if each.severity == "error"] == ["PHO360"]
    lost = PartOut(first=dt.date(2027, 4, 1), channel="red", ballasts=1)
    with pytest.raises(ScheduleError) as fault:
        compile(dataclasses.replace(schedule, changes=(lost,)), dt.date(2027, 4, 1))
    assert [each.code for each in fault.value.findings if each.severity == "error"] == ["PHO301"]


def test_changes_in_words() -> None:
    kinds = scheduled(ACCLIMATION, DARK, MOVED, PLAN.replace("04-01", "09-01"), plans=CALM).changes
    assert [words_of(each) for each in kinds] == [
        "acclimation from 60 % of the dose, linear, a step every 7 days",
        "dark days",
        "hours moved by 10 min a day, to 30 min later",
        "day plan 'calm'",
    ]


def test_moves_and_day_plans_off_the_grid_are_told() -> None:
    odd = MOVED.replace("minutes_per_day: 10", "minutes_per_day: 7")
    (finding,) = found(odd)
    assert finding.code == "PHO323" and finding.path == ("changes", 0, "minutes_per_day")
    assert (
        "moves by 7 min at a time, 30 min in all, off the controller's grid of 5 min"
        in finding.message
    )
    (finding,) = found(PLAN, plans=CALM.replace("start: 10:00", "start: 10:02"))
    assert finding.code == "PHO323" and finding.path == ("day_plans", "calm", "blue")
    assert "10:02" in finding.message
