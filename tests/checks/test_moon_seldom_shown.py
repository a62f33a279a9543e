from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.day_types import ChannelSeason, SeasonError
from photoperiod.program.model import Program
from photoperiod.program.season_days import Error
from tests.checks.bench import (
    Day,
    assert_found,
    bench,
    finding,
    findings,
    handmade,
    marked,
    on,
)

CODE = "PHO424"
PLACE = (
    "controller:\n",
    "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\ncontroller:\n",
)
MOON = (
    "channels:\n",
    "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
    "    moonlight: {kind: steady, light_percent: 2, start: 21:00, end: 09:00}\n",
)

#: A moon on a schedule without a number of tables, and one with a fixed number of tables.
TEXT = bench() + (
    "  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 1}}\n"
    "    moonlight: {kind: steady, light_percent: 50, start: 21:00, end: 06:00}\n"
)


def shown(shown: int, nights: int, extra: int = 0, days: tuple[int, ...] = (1, 1),
          tables: int | None = None, id: str = "moon") -> Program:  # fmt: skip
    """Return a program that shows the moon on some nights; its tables stand for some days."""
    levels = {"moon": [("06:00", 0), ("21:00", 50)]}
    program = handmade(TEXT, *(Day(first=on(n + 1), levels=levels) for n in range(len(days))))
    seasons = (SeasonError({id: ChannelSeason(Error(), on(1), each)}) for each in days)
    parts = zip(program.tables, seasons, strict=True)
    return replace(
        program,
        schedule=replace(
            program.schedule, dated_tables=replace(program.schedule.dated_tables, tables=tables)
        ),
        tables=tuple(replace(table, season=season) for table, season in parts),
        moon_nights={"moon": (shown, nights, extra)},
    )


def test_a_moon_below_the_floor() -> None:
    assert_found(
        CODE,
        [PLACE, MOON, ("{kind: steady, light_percent", "{kind: phase, full_light_percent")],
        (30, 5, "moonlight"),
        "'moon' shows half of the moon's light or more on 0 of 5 dates that have a moon",
    )


@pytest.mark.parametrize(
    ("nights_shown", "nights", "extra", "is_found"),
    [(5, 5, 0, False), (4, 5, 0, True), (5, 5, 1, True), (0, 0, 0, False), (0, 0, 1, True),
     (0, 5, 0, True)],
)  # fmt: skip
def test_every_night_with_a_moon_and_no_other(
    nights_shown: int, nights: int, extra: int, is_found: bool
) -> None:
    assert len(findings(CODE, shown(nights_shown, nights, extra), TEXT)) == is_found


def test_the_numbers_and_the_floor_are_told() -> None:
    found = finding(CODE, shown(3, 5, 0), TEXT)
    assert marked(found, TEXT) == (41, 5, "moonlight")
    assert found.message == (
        "'moon' shows half of the moon's light or more on 3 of 5 dates that have a moon; the least light"
        " that its ballast holds is 10 %"
    )
    assert "on 3 of 5 dates that have a moon, and light on 2 that have none; the least" in (
        finding(CODE, shown(3, 5, 2), TEXT).message
    )


@pytest.mark.parametrize(
    ("days", "is_shared"), [((1, 1), False), ((2, 1), True), ((1, 2), True), ((3, 3), True)]
)
def test_a_table_for_several_dates_is_told(days: tuple[int, ...], is_shared: bool) -> None:
    found = finding(CODE, shown(3, 5, days=days), TEXT)
    assert ("and a table for several dates is dark" in found.message) == is_shared
    assert "fewer LEDs" in found.help  # the number of tables is not what stands in the way
    found = finding(CODE, shown(3, 5, days=days, tables=2), TEXT)
    assert ("needs one table a night" in found.help) == is_shared
    assert ("fewer LEDs" in found.help) != is_shared


def test_tables_of_other_channels_do_not_matter() -> None:
    found = finding(CODE, shown(3, 5, days=(4, 4), tables=2, id="weak"), TEXT)
    assert "several dates" not in found.message
    assert "fewer LEDs" in found.help


def test_tables_whose_dates_all_want_the_same() -> None:
    program = shown(3, 5)
    program = replace(program, tables=tuple(replace(t, season=None) for t in program.tables))
    assert "several dates" not in finding(CODE, program, TEXT).message


def test_two_moons_are_told_apart() -> None:
    program = replace(shown(3, 5), moon_nights={"weak": (5, 5, 0), "moon": (4, 5, 0)})
    assert finding(CODE, program, TEXT).path == ("channels", "moon", "moonlight")
    program = replace(shown(3, 5), moon_nights={"weak": (1, 5, 0), "moon": (4, 5, 0)})
    assert [each.path[1] for each in findings(CODE, program, TEXT)] == ["weak", "moon"]


def test_without_a_moon_there_is_nothing_to_show() -> None:
    assert findings(CODE, handmade()) == []
