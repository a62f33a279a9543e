"""What may move as the file says it, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.api import ScheduleError, compile
from photoperiod.schedule.moves import MayMove
from tests.conftest import changed, load

ASKS = ("dli: [3, 5],", "wanted_dli: 4,")
MOVES = (
    "    full_ppfd: {zones: {crest: 130}}\n",
    "    full_ppfd: {zones: {crest: 130}}\n    may_move: {peak_light_percent: [40, 95]}\n",
)


def test_what_is_written_is_read() -> None:
    text = changed(ASKS, (MOVES[0], MOVES[1].replace("95]", "95], day_hours: [10, 12.5]")))
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None
    assert schedule.asks_for_doses
    assert schedule.zones["crest"].wanted_dli == (4.0, 4.0)
    assert schedule.channels["blue"].may_move == MayMove(
        peak_light=(0.4, 0.95), day_s=(36_000, 45_000)
    )
    band = changed((ASKS[0], "wanted_dli: [3.5, 4],"), MOVES)
    schedule = load("test.yaml", band.encode()).schedule
    assert schedule is not None
    assert schedule.zones["crest"].wanted_dli == (3.5, 4.0)


def test_without_a_question_nothing_is_asked() -> None:
    schedule = load("test.yaml", changed().encode()).schedule
    assert schedule is not None and not schedule.asks_for_doses


def codes(*changes: tuple[str, str]) -> list[str]:
    report = load("test.yaml", changed(*changes).encode()).report
    return [d.code for d in report if d.severity != "note"]


@pytest.mark.parametrize(
    ("asks", "moves", "found"),
    [
        ("wanted_dli: 4,", "may_move: {peak_light_percent: [40, 95]}", []),
        ("wanted_dli: [4, 3],", "may_move: {peak_light_percent: [40, 95]}", ["PHO319"]),
        ("wanted_dli: 4,", "may_move: {peak_light_percent: [95, 40]}", ["PHO319"]),
        ("wanted_dli: 4,", "may_move: {day_hours: [13, 12]}", ["PHO319"]),
        ("wanted_dli: 4,", "may_move: {}", ["PHO207"]),
        ("wanted_dli: 0,", "may_move: {peak_light_percent: [40, 95]}", ["PHO205"]),
        ("wanted_dli: much,", "may_move: {peak_light_percent: [40, 95]}", ["PHO203"]),
        ("wanted_dli: [3, 4, 5],", "may_move: {peak_light_percent: [40, 95]}", ["PHO207"]),
        ("wanted_dli: 4,", "may_move: {together_with: white}", ["PHO301"]),
        ("wanted_dli: 4,", "may_move: {together_with: blue}", ["PHO341"]),
        ("dli: [3, 5],", "may_move: {peak_light_percent: [40, 95]}", ["PHO318"]),
        ("dli: [3, 5], wanted_dli: [4, 6],", "may_move: {day_hours: [9, 12]}", ["PHO342"]),
        ("wanted_dli: 4,", "label: Blue", ["PHO340"]),
    ],
)
def test_what_is_refused(asks: str, moves: str, found: list[str]) -> None:
    first = MOVES[0]
    assert codes((ASKS[0], asks), (first, f"{first}    {moves}\n")) == found


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("start: 09:00", "start: sunrise"), "PHO341"),
        (
            (
                "    day:\n",
                "    moonlight: {kind: phase, full_light_percent: 10, start: 22:00, end: 06:00}\n"
                "    day:\n",
            ),
            "PHO340",
        ),
    ],
)
def test_natural_days_are_refused_with_words(change: tuple[str, str], why: str) -> None:
    place = (
        "title: Test bench\nplace: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"
    )
    assert codes(ASKS, MOVES, ("title: Test bench\n", place), change) == [why]


def test_light_that_is_not_known_is_refused() -> None:
    text = changed(ASKS, MOVES).replace(
        "channels:\n",
        "channels:\n  white:\n    ballast: pair\n    day: {kind: points, points: ["
        "{time: 10:00, light_percent: 50}, {time: 12:00, light_percent: 50}]}\n",
    )
    (found,) = [d for d in load("test.yaml", text.encode()).report if d.code == "PHO340"]
    assert "the light of white is not known there" in found.message


def test_a_schedule_of_python_has_the_same_rules() -> None:
    schedule = load("test.yaml", changed(MOVES, ASKS).encode()).schedule
    assert schedule is not None
    blue = replace(schedule.channels["blue"], may_move=None)
    with pytest.raises(ScheduleError) as fault:
        compile(replace(schedule, channels={"blue": blue}))
    assert [d.code for d in fault.value.findings if d.severity == "error"] == ["PHO340"]


AZORES = (
    "title: Test bench\n",
    "title: Test bench\nplace: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n",
)


def test_the_channel_that_follows_the_sky_is_named() -> None:
    moon = (
        "channels:\n",
        "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 1}}\n"
        "    moonlight: {kind: phase, full_light_percent: 10, start: 22:00, end: 06:00}\n",
    )
    text = changed(ASKS, MOVES, AZORES, ("channels: 2", "channels: 4")).replace(*moon)
    (found,) = [d for d in load("test.yaml", text.encode()).report if d.code == "PHO340"]
    assert "'moon' follows the sky, so that each date has another dose" in found.message
    assert "`dli`" in found.help


def test_clocks_that_differ_are_no_hindrance() -> None:
    assert codes(ASKS, MOVES, AZORES, ("  clock: standard\n", "  clock: civil\n")) == []
