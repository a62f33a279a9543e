"""From changes in a file to values."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.schedule.changes import (
    Acclimation,
    BallastThen,
    Course,
    DarkDays,
    MovedHours,
    OtherDay,
    PartOut,
)
from tests.changes.bench import ACCLIMATION, CALM, TEXT, scheduled, text_with
from tests.conftest import load

TUBES = TEXT.replace(
    "zones:\n  crest", "tubes:\n  blue-a: {watts: 54}\n  blue-b: {watts: 54}\nzones:\n  crest"
)
TUBES = TUBES.replace(
    "    ballast_count: 1\n", "    ballast_count: 2\n    tubes: [blue-a, blue-b]\n", 1
)


def codes(*changes: str, plans: str = "", text: str = TEXT) -> list[str]:
    return [
        d.code for d in load("t.yaml", text_with(*changes, plans=plans, text=text).encode()).report
    ]


def test_an_acclimation_of_all_means_the_channels_with_a_day() -> None:
    (change,) = scheduled(ACCLIMATION).changes
    assert change == Acclimation(
        first=dt.date(2027, 4, 1), days=28, from_share=0.6, every_days=7, channels=("blue", "white")
    )


def test_an_acclimation_of_zones_means_the_channels_that_light_them() -> None:
    (change,) = scheduled(f"{ACCLIMATION[:-1]}, zones: [sand], course: geometric}}").changes
    assert isinstance(change, Acclimation)
    assert change.channels == ("blue",)  # white gives 0 there
    assert change.zones == ("sand",)
    assert change.course is Course.GEOMETRIC


def test_who_reads_a_file_gets_a_step_a_day() -> None:
    by_file = TEXT.replace(
        "  setpoints_per_channel: 12\n", "  setpoints_per_channel: 12\n  loaded_by: file\n"
    )
    (change,) = scheduled(ACCLIMATION, text=by_file).changes
    assert isinstance(change, Acclimation) and change.every_days == 1
    (change,) = scheduled(f"{ACCLIMATION[:-1]}, every_days: 14}}", text=by_file).changes
    assert isinstance(change, Acclimation) and change.every_days == 14


def test_the_other_kinds() -> None:
    found = scheduled(
        "{kind: dark-days, from_date: 2027-06-07, days: 3, channels: [white]}",
        "{kind: dark-days, from_date: 2027-08-07, days: 3, keep_moonlight: true}",
        "{kind: moved-hours, from_date: 2027-07-01, minutes_per_day: 10, minutes: -45}",
        "{kind: other-day, from_date: 2027-09-01, day_plan: calm, days: 5}",
        plans=CALM,
    ).changes
    assert found == (
        DarkDays(first=dt.date(2027, 6, 7), days=3, channels=("white",)),
        DarkDays(
            first=dt.date(2027, 8, 7), days=3, channels=("blue", "white"), keeps_moonlight=True
        ),
        MovedHours(
            first=dt.date(2027, 7, 1),
            per_day_s=600,
            total_s=-2700,
            every_days=1,
            channels=("blue", "white"),
        ),
        OtherDay(first=dt.date(2027, 9, 1), day_plan="calm", channels=("blue",), days=5),
    )


def test_parts_that_are_out() -> None:
    found = scheduled(
        "{kind: part-out, from_date: 2027-05-01, tube: blue-b, ballast: goes-on}",
        "{kind: part-out, from_date: 2027-05-01, channel: blue, ballasts: 1, days: 3}",
        text=TUBES,
    ).changes
    may = dt.date(2027, 5, 1)
    assert found == (
        PartOut(first=may, channel="blue", tube="blue-b", ballast=BallastThen.GOES_ON),
        PartOut(first=may, channel="blue", ballasts=1, days=3),
    )


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (
            "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 0}",
            "PHO205",
        ),
        (
            "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 100}",
            "PHO205",
        ),
        (
            "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 140}",
            "PHO205",
        ),
        (
            "{kind: acclimation, from_date: 2027-04-01, over_days: 0, from_dose_percent: 50}",
            "PHO205",
        ),
        (
            "{kind: acclimation, from_date: 2027-04-31, over_days: 9, from_dose_percent: 50}",
            "PHO306",
        ),
        ("{kind: acclimation, from_date: 2027-04-01, from_dose_percent: 50}", "PHO202"),
        ("{kind: acclimate, from_date: 2027-04-01}", "PHO204"),
        ("{kind: cloudy-days, from_date: 2027-04-01}", "PHO209"),
        ("{kind: dark-days, from_date: 2027-04-01, days: 3, channels: [blu]}", "PHO301"),
        ("{kind: dark-days, from_date: 2027-04-01, days: 2.5}", "PHO203"),
        ("{kind: dark-days, from_date: 2027-04-01, days: 3, channels: []}", "PHO207"),
        ("{kind: other-day, from_date: 2027-04-01, day_plan: storm}", "PHO301"),
        ("{kind: moved-hours, from_date: 2027-04-01, minutes_per_day: -10, minutes: 30}", "PHO205"),
        ("{kind: moved-hours, from_date: 2027-04-01, minutes_per_day: 10, minutes: 0}", "PHO361"),
        ("{kind: part-out, from_date: 2027-04-01}", "PHO362"),
        ("{kind: part-out, from_date: 2027-04-01, channel: blue, ballasts: 2}", "PHO362"),
        ("{kind: part-out, from_date: 2027-04-01, channel: bleu, ballasts: 1}", "PHO301"),
        (f"{ACCLIMATION[:-1]}, zones: [reef]}}", "PHO301"),
        (f"{ACCLIMATION[:-1]}, zones: [crest], channels: [blue]}}", "PHO362"),
    ],
)
def test_each_wrong_change_is_one_finding(change: str, code: str) -> None:
    assert codes(change) == [code]


def test_a_faulty_change_does_not_hide_another() -> None:
    assert codes(
        "{kind: dark-days, from_date: 2027-02-30, days: 3}",
        "{kind: dark-days, from_date: 2027-04-01, days: 3, channels: [blu]}",
    ) == ["PHO306", "PHO301"]


def test_a_day_plan_has_the_rules_of_a_day() -> None:
    turned = CALM.replace("end: 18:00", "end: 11:00")
    change = "{kind: other-day, from_date: 2027-04-01, day_plan: calm}"
    assert codes(change, plans=turned) == codes(change, plans=turned)[:1] != []
    assert codes(change, plans=CALM.replace("blue:", "blau:")) == ["PHO301"]
    assert codes(change, plans=CALM) == []
    assert codes(plans=CALM) == ["PHO318"]
