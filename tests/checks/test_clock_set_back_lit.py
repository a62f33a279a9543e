from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.program.dates import DateSpan
from tests.checks.bench import (
    BENCH,
    Day,
    assert_found,
    finding,
    findings,
    handmade,
    marked,
    on,
    with_channel,
)

CODE = "PHO425"

#: Summer time ends in Lisbon on 31 October 2027.
OCTOBER = DateSpan(dt.date(2027, 10, 30), dt.date(2027, 11, 1))


def set_back(*found: tuple[int, str, float]) -> list[str]:
    program = replace(handmade(), set_back=tuple((on(day), id, off) for day, id, off in found))
    return [each.message for each in findings(CODE, program)]


@pytest.mark.parametrize(
    "span",
    [
        OCTOBER,
        DateSpan(dt.date(2027, 10, 31), dt.date(2027, 11, 1)),
        DateSpan(dt.date(2027, 10, 29), dt.date(2027, 10, 31)),
    ],
)
def test_a_long_dawn_while_summer_time_ends(span: DateSpan) -> None:
    """The date of the change is one among others, the first or the last."""
    assert_found(
        CODE,
        [
            ("controller:\n",
             "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\ncontroller:\n"),
            ("clock: standard", "clock: civil"),
            ("start: 09:00, minutes: 60", "start: 00:10, minutes: 600"),
        ],
        (27, 3, "blue"),
        "on 2027-10-31 the controller's clock is set back while the light of 'blue' changes",
        span,
    )  # fmt: skip


@pytest.mark.parametrize(("off", "is_found"), [(0.019, False), (0.02, False), (0.021, True)])
def test_two_per_cent_of_full(off: float, is_found: bool) -> None:
    assert (
        set_back((3, "weak", off))
        == [
            "on 2027-03-03 the controller's clock is set back while the light of 'weak' changes: in the"
            " time that comes twice its light is wrong by up to 2.1 % of full"
        ]
        * is_found
    )


@pytest.mark.parametrize(
    ("peak", "off", "is_found"),
    [(0.03, 0.0099, False), (0.03, 0.0101, True), (0.06, 0.0199, False), (0.06, 0.0201, True),
     (0.9, 0.0199, False), (0.9, 0.0201, True), (0.0, 0.9, False)],
)  # fmt: skip
def test_a_third_of_a_faint_light(peak: float, off: float, is_found: bool) -> None:
    """The peak is that of all tables: a moon may be new on the first of them."""
    program = handmade(BENCH, Day(first=on(1)), Day(first=on(2)))
    for table, each in enumerate((peak / 2, peak)):
        program = with_channel(program, "weak", table, reachable_peak=each)
    program = replace(program, set_back=((on(1), "weak", off),))
    assert len(findings(CODE, program)) == is_found


def test_a_moon_that_begins_while_summer_time_ends() -> None:
    """01:00 is 00:00 again: the moon of 2 % from 00:30 of summer time on is dark when it should be lit."""
    assert_found(
        CODE,
        [
            ("controller:\n",
             "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n"),
            ("clock: standard", "clock: civil"),
            ("channels:\n", "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 5}}\n"
             "    moonlight: {kind: steady, light_percent: 2, start: 23:30, end: 00:30}\n"),
        ],
        (27, 3, "moon"),
        "wrong by up to 2 % of full",
        OCTOBER,
    )  # fmt: skip


def test_each_channel_is_found_once_at_its_first_such_date() -> None:
    messages = set_back(
        (1, "weak", 0.01),
        (1, "strong", 0.3),
        (2, "weak", 0.1),
        (2, "strong", 0.5),
        (3, "weak", 0.9),
    )
    assert [message.split(" the controller")[0] for message in messages] == [
        "on 2027-03-01",
        "on 2027-03-02",
    ]
    assert "'strong'" in messages[0] and "30 %" in messages[0]
    assert "'weak'" in messages[1] and "10 %" in messages[1]
    assert messages[0].endswith("up to 30 % of full; and on 1 other date: 2027-03-02")
    assert messages[1].endswith("up to 10 % of full; and on 1 other date: 2027-03-03")


def test_the_channel_is_marked() -> None:
    program = replace(handmade(), set_back=((on(1), "weak", 0.0), (on(1), "strong", 0.1)))
    assert marked(finding(CODE, program)) == (33, 3, "strong")


def test_clocks_that_are_never_set_back() -> None:
    assert set_back() == []
