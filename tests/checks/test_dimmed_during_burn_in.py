from __future__ import annotations

import datetime as dt
import re

import pytest

from photoperiod.program.model import Program
from photoperiod.tubes.hours import Dimmed, TubeHours
from tests.checks.bench import (
    BENCH,
    SPAN,
    Day,
    assert_found,
    bench,
    finding,
    findings,
    found_in,
    marked,
    on,
    two_dates,
    with_tubes,
)
from tests.conftest import SCHEDULE, changed, compiled

CODE = "PHO406"
NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")
LEAVE = ("title: Test bench\n", "title: Test bench\nburn_in: leave\n")


def test_a_plan_that_dims_a_new_tube() -> None:
    assert_found(
        CODE,
        [("{watts: 54}", "{watts: 54, fitted: 2027-03-02T10:00, burn_in_full_hours: 12}"), LEAVE],
        (23, 69, "12"),
        "tube 'blue-a' is dimmed on 2027-03-02 at 10:00 to 89 % level with 12 h",
    )


#: Each way to break a burn-in of 12 h from 2027-03-02 08:00 on: the day, when it is first dimmed, and
#: the hours owed by then. A step of the plan may take one minute of the table.
BREAKS = {
    "dimmed all day": ([("10:00", 0), ("10:00", 80), ("18:00", 80), ("18:00", 0)], "10:00", 12),
    "a dawn that is no edge": ([("09:50", 0), ("10:00", 100), ("18:00", 100), ("18:00", 0)],
                               "09:50", 12),
    "dimmed after some hours": ([("10:00", 0), ("10:00", 100), ("15:00", 100), ("15:00", 40),
                                 ("19:00", 40), ("19:00", 0)], "15:00", 7),
    "a dusk that is no edge": ([("10:00", 0), ("10:00", 100), ("15:00", 100), ("15:30", 0)],
                               "15:00", 7),
    "moonlight after the day": ([("10:00", 0), ("10:00", 100), ("17:00", 100), ("17:00", 0),
                                 ("20:00", 0), ("20:00", 5), ("22:00", 5), ("22:00", 0)],
                                "20:00", 5),
}  # fmt: skip


@pytest.mark.parametrize("way", BREAKS)
def test_every_way_to_break_a_burn_in_is_found_in_a_day_of_ones_own(way: str) -> None:
    points, time, owed = BREAKS[way]
    shown = ", ".join(
        f'{{time: "{at}", light_percent: {light}}}' for at, light in [("00:00", 0), *points]
    )
    ramps = SCHEDULE[SCHEDULE.index("      kind: ramps\n") : SCHEDULE.index("tank: bench")]
    text = changed(NEW, LEAVE, (ramps, f"      kind: points\n      points: [{shown}]\n"))
    outcome = compiled(text, SPAN)
    diagnostic = found_in(outcome, CODE)
    told = re.match(
        r"tube 'blue-a' is dimmed on 2027-03-02 at ([0-9:]+) to ([0-9.]+) % level with ([0-9.]+) h",
        diagnostic.message,
    )
    assert told is not None, diagnostic.message
    hour, minute, *second = (int(part) for part in told[1].split(":"))
    when = hour * 3600 + minute * 60 + sum(second)
    hours, minutes = (int(part) for part in time.split(":"))
    assert abs(when - hours * 3600 - minutes * 60) <= 60
    assert float(told[3]) == pytest.approx(owed, abs=0.05)
    assert outcome.program is not None
    level = outcome.program.channels["blue"].replay.counts[when]  # steps of 1 %
    assert float(told[2]) == level < 100
    assert diagnostic.source_range is not None and diagnostic.source_range.line == 23


def test_the_planner_leaves_nothing_of_these_to_find() -> None:
    outcome = compiled(changed(NEW), SPAN)
    assert CODE not in {d.code for d in outcome.report}
    assert outcome.program is not None
    assert outcome.program.tubes["blue-a"].hours.owed_hours == 0


#: Both tubes owe; steps of time are a quarter of an hour, so that an edge of a table takes 900 s.
OWING = bench(
    ("tube-a: {watts: 54}", "tube-a: {watts: 54, burn_in_full_hours: 12}"),
    ("tube-b: {watts: 54}", "tube-b: {watts: 54, burn_in_full_hours: 13}"),
)


def ran(*runs: Dimmed) -> TubeHours:
    """Return the hours of a tube."""
    return TubeHours(0.0, 12.0, runs=list(runs))


def owing(**hours: TubeHours) -> Program:
    # strong: 60 % on 1 March, 70 % on 2 March; weak: 80 and 90 %
    second = Day(levels={"weak": [("08:00", 90), ("18:00", 0)],
                         "strong": [("08:00", 70), ("18:00", 0)]})  # fmt: skip
    return with_tubes(two_dates(OWING, Day(), second), **hours)


def run(day: int, time_h: int, length_s: int, owed_h: float = 12.0) -> Dimmed:
    """Return a dimmed run; one of at most five minutes is an edge and may be."""
    return Dimmed(on(day), time_h * 3600, length_s, owed_h, edge_s=300)


@pytest.mark.parametrize(("length_s", "is_found"), [(299, False), (300, False), (301, True)])
def test_five_minutes_are_an_edge(length_s: int, is_found: bool) -> None:
    found = findings(CODE, owing(tube_a=ran(run(1, 9, length_s))), OWING)
    assert len(found) == is_found


@pytest.mark.parametrize(
    ("lengths_s", "is_edge"), [([899, 900], True), ([900, 900], True), ([900, 901], False)]
)
def test_a_run_of_one_coarse_time_step_is_told_as_such(lengths_s: list[int], is_edge: bool) -> None:
    runs = (run(day + 1, 9, length) for day, length in enumerate(lengths_s))
    found = finding(CODE, owing(tube_a=ran(*runs)), OWING)
    assert ("within one time step of 0 h 15 min" in found.message) == is_edge
    assert ("a finer time step" in found.help) == is_edge
    assert ("dark or full" in found.help) != is_edge


@pytest.mark.parametrize(("day", "level"), [(1, 60), (2, 70)])
def test_the_level_is_that_of_the_table_of_the_date(day: int, level: int) -> None:
    found = finding(CODE, owing(tube_b=ran(run(day, 9, 3600, 7.5))), OWING)
    assert found.message == (
        f"tube 'tube-b' is dimmed on 2027-03-0{day} at 09:00 to {level} % level with 7.5 h of burn-in"
        " owed; in all 1 h 00 min on 1 date"
    )


def test_the_first_run_is_told_and_all_are_counted() -> None:
    runs = [run(1, 9, 1800, 12), run(1, 11, 1800, 10), run(2, 9, 3600, 7)]
    found = finding(CODE, owing(tube_a=ran(*runs)), OWING)
    assert "on 2027-03-01 at 09:00 to 80 % level with 12 h" in found.message
    assert found.message.endswith("in all 2 h 00 min on 2 dates")


def test_the_level_is_that_of_the_second() -> None:
    day = Day(levels={"weak": [("08:00", 80), ("12:00", 70), ("18:00", 0)]})
    program = with_tubes(two_dates(OWING, day, day), tube_a=ran(run(1, 12, 3600)))
    assert "at 12:00 to 70 % level" in finding(CODE, program, OWING).message


def test_each_tube_is_marked_and_its_channel_named() -> None:
    hours = ran(run(2, 9, 3600))
    found = findings(CODE, owing(tube_a=hours, tube_b=hours), OWING)
    assert [marked(each, OWING) for each in found] == [(22, 43, "12"), (23, 43, "13")]
    assert [each.related[0].path for each in found] == [
        ("channels", "weak"),
        ("channels", "strong"),
    ]
    assert [each.related[0].message for each in found] == ["its channel", "its channel"]


def test_a_tube_that_owes_nothing_may_be_dimmed() -> None:
    assert findings(CODE, owing(tube_a=TubeHours(0.0, 0.0)), OWING) == []


@pytest.mark.parametrize("date", [dt.date(2027, 3, 1), dt.date(2027, 3, 5)])
def test_the_first_and_the_last_date_are_looked_at(date: dt.date) -> None:
    """A tube fitted at noon, on a channel that is at 80 % until 18:00."""
    text = BENCH.replace("tank: bench\n", "tank: bench\nburn_in: leave\n").replace(
        "tube-a: {watts: 54}",
        f"tube-a: {{watts: 54, fitted: {date}T12:00, burn_in_full_hours: 12}}",
    )
    message = found_in(compiled(text, SPAN), CODE).message
    days = (SPAN.last - date).days + 1
    hours = 6 + 10 * (days - 1)
    assert message == (
        f"tube 'tube-a' is dimmed on {date} at 12:00 to 80 % level with 12 h of burn-in owed;"
        f" in all {hours} h 00 min on {days} date{'s' if days > 1 else ''}"
    )
