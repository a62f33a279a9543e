from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.channel_day import Amounts
from photoperiod.program.day_types import ChannelSeason, SeasonError
from photoperiod.program.model import Program
from photoperiod.program.season_days import Error
from tests.checks.bench import (
    assert_found,
    assert_only_in_table,
    finding,
    findings,
    handmade,
    marked,
    on,
    two_dates,
    with_channel,
)

CODE = "PHO418"


def giving(planned: float, given: float, id: str = "weak") -> Program:
    hours = Amounts(plan=1.0, reachable=planned, replay=given)
    return with_channel(handmade(), id, full_light_hours=hours)


def test_a_time_step_of_four_hours() -> None:
    assert_found(
        CODE,
        [
            ("time_step_minutes: 1", "time_step_minutes: 240"),
            ("between: line", "between: hold"),
            ("ppfd_max: 200", "ppfd_max: 300"),
        ],
        (26, 3, "blue"),
        "full-light hours a day, the",
    )


# 5 % of 100 h are 5 h; of less than an hour 0.05 h may be missing or too much.
@pytest.mark.parametrize(
    ("planned", "given", "is_found"),
    [
        (100.0, 104.9, False), (100.0, 105.0, False), (100.0, 105.1, True),
        (100.0, 95.1, False), (100.0, 95.0, False), (100.0, 94.9, True),
        (0.5, 0.549, False), (0.5, 0.551, True), (0.5, 0.451, False), (0.5, 0.449, True),
        (0.0, 0.049, False), (0.0, 0.05, False), (0.0, 0.051, True),
    ],
)  # fmt: skip
def test_five_per_cent_and_three_minutes(planned: float, given: float, is_found: bool) -> None:
    assert len(findings(CODE, giving(planned, given))) == is_found


@pytest.mark.parametrize(("id", "line"), [("weak", 28), ("strong", 33)])
def test_the_channel_is_marked(id: str, line: int) -> None:
    found = finding(CODE, giving(8.0, 10.0, id))
    assert marked(found) == (line, 3, id)
    assert found.message == (
        f"the table of '{id}' gives 10 full-light hours a day, the reachable plan 8 (+25 %)"
    )


def test_the_change_is_told_in_per_cent_of_the_plan() -> None:
    assert finding(CODE, giving(8.0, 20.0)).message.endswith("the reachable plan 8 (+150 %)")
    assert finding(CODE, giving(8.0, 2.0)).message.endswith("the reachable plan 8 (-75 %)")


def test_from_nothing_there_is_no_share() -> None:
    assert finding(CODE, giving(0.0, 1.0)).message.endswith("the reachable plan 0 (from nothing)")


def test_the_wish_itself_is_not_what_counts() -> None:
    hours = Amounts(plan=20.0, reachable=8.0, replay=8.0)
    assert findings(CODE, with_channel(handmade(), "weak", full_light_hours=hours)) == []


@pytest.mark.parametrize(("days", "is_found"), [(1, True), (2, False)])
def test_a_table_of_many_dates_is_for_another_check(days: int, is_found: bool) -> None:
    program = giving(8.0, 10.0)
    season = SeasonError({"weak": ChannelSeason(Error(), on(1), days)})
    program = replace(program, tables=(replace(program.tables[0], season=season),))
    assert len(findings(CODE, program)) == is_found


def test_another_channel_of_many_dates_does_not_matter() -> None:
    program = giving(8.0, 10.0)
    season = SeasonError({"strong": ChannelSeason(Error(), on(1), 9)})
    program = replace(program, tables=(replace(program.tables[0], season=season),))
    assert len(findings(CODE, program)) == 1


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    hours = Amounts(plan=8.0, reachable=8.0, replay=10.0)
    assert_only_in_table(
        CODE, with_channel(two_dates(), "weak", table, full_light_hours=hours), table
    )
