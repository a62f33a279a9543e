"""A rehearsal prints what a board would give that starts at a moment."""

from __future__ import annotations

import datetime as dt
from typing import Any

from photoperiod.board.rehearsal import rehearse, status_at
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.player.reference import Status
from tests.board.bench import table

DATE = dt.date(2027, 3, 2)


def held(*rows: Any, **changes: Any) -> PlayableTable:
    return read_table("table.json", table(*rows, **changes))


def lines(found: PlayableTable, second: int, look_s: int) -> list[tuple[int, str]]:
    return [(at, line) for at, some in rehearse(found, DATE, second, look_s) for line in some]


def words(line: str) -> tuple[str, str, str]:
    """Return time, count and relay of a line."""
    time, _, count, _, _, _, relay, *_ = line.split()
    return time, count, relay


def test_relays_are_told_at_their_second_and_levels_at_each_look() -> None:
    """By hand: rows at 08:00:07 (on, 50) and 08:20:05 (off) that hold; no soft start."""
    found = held(
        (0, 0, "off"), (28_807, 50), (30_005, 0, "off"),
        between="hold", every_seconds=1, soft_minutes=0,
    )  # fmt: skip
    told = [(at, *words(line)) for at, line in lines(found, 8 * 3600 - 60, 600)]
    assert told == [
        (0, "07:59:00", "count=0", "relay=open"),
        (67, "08:00:07", "count=50", "relay=closed"),
        (1265, "08:20:05", "count=0", "relay=open"),
    ]


def test_it_begins_softly_like_every_start() -> None:
    """By hand: from the floor (10 of 100) to the top in 30 minutes, 3 counts a minute."""
    found = held((0, 80), every_seconds=1)
    told = {at: words(line)[1] for at, line in lines(found, 43_200, 60)}
    assert [told[60 * minute] for minute in (0, 1, 2, 23)] == [
        "count=10", "count=13", "count=16", "count=79",
    ]  # fmt: skip
    assert told[1440] == "count=80" and max(told) == 1440


def test_a_soft_start_is_said_where_it_holds_an_output_down() -> None:
    """By hand: 3 counts a minute from 10 reach 79 after 23 minutes, and 82, more than the 80, after 24."""
    found = held((0, 80), every_seconds=1)
    soft = {at for at, line in lines(found, 43_200, 60) if line.endswith(" relay=closed soft")}
    assert soft == {60 * minute for minute in range(24)}
    assert status_at(found, DATE, 43_200) == Status.SOFT
    at_once = held((0, 80), every_seconds=1, soft_minutes=0)
    assert [line.split()[-1] for _, line in lines(at_once, 43_200, 60)] == ["relay=closed"]
    low = held((0, 10), every_seconds=1)  # no more than the floor
    assert [line.split()[-1] for _, line in lines(low, 43_200, 60)] == ["relay=closed"]
    assert status_at(low, DATE, 43_200) == Status.FINE


def test_dates_go_on_past_midnight() -> None:
    found = held((0, 0, "off"), (3600, 50), dates=("2027-03-02", "2027-03-03"), soft_minutes=0)
    told = [words(line)[0] for _, line in lines(found, 2 * 3600, 3600)]
    assert told[0] == "2027-03-02T02:00:00"
    assert told[-1] == "2027-03-03T01:00:00"


def test_a_day_is_a_day() -> None:
    looks = [at for at, _ in rehearse(held((0, 80)), DATE, 5, 3600)]
    assert looks[0] == 0 and looks[-1] == 23 * 3600


def test_its_status_at_the_beginning() -> None:
    found = held((0, 80), dates=("2027-03-03", "2027-03-04"))
    assert status_at(found, DATE, 0) == Status.EARLY | Status.SOFT
    assert status_at(found, dt.date(2027, 3, 5), 0) == Status.EXPIRED | Status.SOFT
    found = held((0, 80, "off"), dates=("2027-03-03", "2027-03-04"))  # a level that nobody sees
    assert status_at(found, DATE, 0) == Status.EARLY
