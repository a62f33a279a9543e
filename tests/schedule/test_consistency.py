"""A schedule built in Python has the findings that a file would have, at the same paths."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from photoperiod.api import load_text
from photoperiod.schedule.consistency import faults_of
from photoperiod.schedule.day_plan import SunDay
from photoperiod.schedule.model import Acceptance, PpfdSpread, Schedule
from photoperiod.sky.clock import ClockKind
from tests.conftest import SCHEDULE, changed

GOOD = load_text("test.yaml", SCHEDULE.encode()).schedule
BLUE = GOOD.channels["blue"]


def with_blue(**changes: Any) -> Schedule:
    return replace(GOOD, channels={"blue": replace(BLUE, **changes)})


def with_second(**changes: Any) -> Schedule:
    return replace(GOOD, channels={"blue": BLUE, "white": replace(BLUE, id="white", **changes)})


def accepting(finding: str = "ppfd-above-most", **names: frozenset[str]) -> Schedule:
    return replace(GOOD, acceptances=(Acceptance(finding=finding, because="algae", **names),))


def test_a_schedule_from_a_file_has_no_fault() -> None:
    assert faults_of(GOOD) == []


@pytest.mark.parametrize(
    ("schedule", "code", "path"),
    [
        (replace(GOOD, channels={}), "PHO207", ("channels",)),
        (replace(GOOD, tank="North wall"), "PHO206", ("tank",)),
        (replace(GOOD, tank=""), "PHO206", ("tank",)),
        (replace(GOOD, channels={"white": BLUE}), "PHO301", ("channels", "white")),
        (replace(GOOD, ballasts={}), "PHO301", ("channels", "blue", "ballast")),
        (replace(GOOD, tubes={}), "PHO301", ("channels", "blue", "tubes", 0)),
        (replace(GOOD, zones={}), "PHO301", ("channels", "blue", "full_ppfd", "zones", "crest")),
        (with_blue(full_ppfd={"crest": -1.0}), "PHO205",
         ("channels", "blue", "full_ppfd", "zones", "crest")),
        (with_blue(full_ppfd={"crest": float("nan")}), "PHO205",
         ("channels", "blue", "full_ppfd", "zones", "crest")),
        (with_blue(full_ppfd={"crest": float("inf")}), "PHO205",
         ("channels", "blue", "full_ppfd", "zones", "crest")),
        (with_blue(full_ppfd={}), "PHO317", ("zones", "crest")),
        (with_blue(day=None), "PHO316", ("channels", "blue")),
        (with_blue(day=SunDay(peak_light=0.8)), "PHO329", ("place",)),
        (with_second(), "PHO302", ("channels", "white", "tubes", 0)),
        (replace(GOOD, plan_clock=ClockKind.CIVIL), "PHO329", ("place",)),
        (accepting("ppfd-above-mots"), "PHO204", ("accept", 0, "finding")),
        (accepting("dose-outside-band"), "PHO204", ("accept", 0, "finding")),
        (accepting(channels=frozenset({"green"})), "PHO301", ("accept", 0, "channels")),
        (accepting(zones=frozenset({"sand"})), "PHO301", ("accept", 0, "zones")),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_found(
    schedule: Schedule, code: str, path: tuple[object, ...]
) -> None:
    faults = faults_of(schedule)
    assert [(fault.code, fault.path) for fault in faults if fault.severity == "error"] == [
        (code, path)
    ]


def test_a_relay_that_the_controller_lacks_is_found() -> None:
    text = changed(
        ("relay: {kind: column}", "relay: {kind: none}"),
        ("dark: {kind: relay}", "dark: {kind: never}"),
    )
    dark_by_relay = {"pair": GOOD.ballasts["pair"]}
    without = replace(load_text("test.yaml", text.encode()).schedule, ballasts=dark_by_relay)
    assert [(fault.code, fault.path) for fault in faults_of(without)] == [
        ("PHO307", ("ballasts", "pair", "dark"))
    ]


@pytest.mark.parametrize("key", ["ballasts", "tubes", "zones", "channels"])
@pytest.mark.parametrize("value", [{"id": "x"}, None, "blue", dt.date(2027, 3, 2)])
def test_a_part_of_another_type_is_named(key: str, value: object) -> None:
    parts: Mapping[str, object] = {**getattr(GOOD, key), "odd": value}
    changes: dict[str, Any] = {key: parts}
    with pytest.raises(TypeError, match=rf"^{key} is "):
        faults_of(replace(GOOD, **changes))


@pytest.mark.parametrize(
    ("schedule", "said"),
    [
        (replace(GOOD, plan_clock="standard"),
         "plan_clock is 'standard' (str), not ClockKind"),
        (replace(GOOD, controller=replace(GOOD.controller, times=replace(GOOD.controller.times,
                                                                         between="lines"))),
         "controller.times.between is 'lines' (str), not Between"),
        (with_blue(ballast_count=True), "channels.blue.ballast_count is True (bool), not int"),
        (with_blue(ballast_count=1.5), "channels.blue.ballast_count is 1.5 (float), not int"),
        (with_blue(tubes=[GOOD.tubes["blue-a"]]), "channels.blue.tubes is ["),
        (with_blue(day="ramps"), "channels.blue.day is 'ramps' (str), not Ramps or Points or SunDay or None"),
        (with_blue(day=replace(BLUE.day, dawn=replace(BLUE.day.dawn, start="09:00"))),
         "channels.blue.day.dawn.start is '09:00' (str), not ClockTime or Event"),
        (with_blue(day=replace(BLUE.day, peaks=(replace(BLUE.day.peaks[0], light="80 %"),))),
         "channels.blue.day.peaks[0].light is '80 %' (str), not float"),
        (replace(GOOD, zones={"crest": replace(GOOD.zones["crest"], dli_band=(3, None))}),
         "zones.crest.dli_band is (3, None) (tuple), not "),
    ],
)  # fmt: skip
def test_a_field_of_another_type_is_named(schedule: Schedule, said: str) -> None:
    with pytest.raises(TypeError) as caught:
        faults_of(schedule)
    assert str(caught.value).startswith(said)


def test_whole_numbers_stand_for_others() -> None:
    band = replace(GOOD.zones["crest"], dli_band=(3, 5), ppfd_max=200)
    assert faults_of(replace(GOOD, zones={"crest": band})) == []


def test_light_that_is_not_known_in_a_zone_is_reported_and_zero_is_known() -> None:
    zones = {id: replace(GOOD.zones["crest"], id=id) for id in ("crest", "sand")}
    channels = {"blue": BLUE, "white": replace(BLUE, id="white", tubes=(), full_ppfd={"sand": 9.0})}
    both = replace(GOOD, zones=zones, channels=channels)
    assert [(each.code, each.path) for each in faults_of(both)] == [
        ("PHO334", ("channels", "blue", "full_ppfd", "zones")),
        ("PHO334", ("channels", "white", "full_ppfd", "zones")),
    ]
    known = {
        "blue": replace(BLUE, full_ppfd={"crest": 130.0, "sand": 0.0}),
        "white": replace(channels["white"], full_ppfd={"sand": 9.0, "crest": 0.0}),
    }
    assert faults_of(replace(both, channels=known)) == []
    unmeasured = known | {"white": replace(channels["white"], full_ppfd={})}
    unmeasured["blue"] = replace(BLUE, full_ppfd={"crest": 130.0, "sand": 9.0})
    assert [(each.code, each.path) for each in faults_of(replace(both, channels=unmeasured))] == [
        ("PHO325", ("channels", "white"))
    ]


def test_a_spread_is_of_a_zone_that_has_light_and_is_a_number() -> None:
    blue = GOOD.channels["blue"]
    spread = {
        "crest": PpfdSpread(limits=math.nan, dli_least=-1),
        "sand": PpfdSpread(limits=1, dli_least=1),
    }
    wrong = replace(GOOD, channels={"blue": replace(blue, ppfd_spread=spread)})
    assert [(each.code, each.path[-1]) for each in faults_of(wrong)] == [
        ("PHO205", "crest"), ("PHO205", "crest"), ("PHO301", "sand"),
    ]  # fmt: skip
