from __future__ import annotations

import pytest

from tests.checks.bench import (
    Day,
    assert_found,
    assert_only_in_table,
    bench,
    finding,
    findings,
    handmade,
    marked,
    two_dates,
    with_channel,
)

CODE = "PHO413"

#: Dark below 0.2 V; from 0.2 V to the floor at 1 V light is not defined. A level of 5 is 0.5 V.
STANDBY = bench(("    dark: {kind: relay}\n", "    dark: {kind: standby, below_volts: 0.2}\n"))


def lingering(*at_half_a_volt: tuple[str, str]) -> Day:
    """Return a day on which strong is at 0.5 V from each first time until each second one."""
    rows = [("07:00", 0)]
    for begin, end in at_half_a_volt:
        rows += [(begin, 5), (end, 60)]
    return Day(levels={"strong": [*rows, ("18:00", 0)]})


def test_a_channel_that_switches_three_times() -> None:
    assert_found(
        CODE,
        [("    dark: {kind: relay}\n", "    dark: {kind: standby, below_volts: 0.2}\n"),
         ("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
          "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
          "      kind: points\n      points:\n" + "".join(
              f"        - {{time: {time}, light_percent: {light}}}\n"
              for time, light in (("09:00", 1), ("12:00", 1), ("12:00", 0), ("13:00", 0),
                                  ("13:00", 1), ("15:00", 1), ("15:00", 0), ("16:00", 0),
                                  ("16:00", 1), ("20:00", 1))))],
        (26, 3, "blue"),
        "s a day between 0.2 V and 1 V, where its light is not defined",
    )  # fmt: skip


# A time step is 900 s, so two are 1800 s.
@pytest.mark.parametrize(
    ("end", "is_found"), [("08:29:59", False), ("08:30", False), ("08:30:01", True)]
)
def test_two_time_steps_a_day_are_allowed(end: str, is_found: bool) -> None:
    found = findings(CODE, handmade(STANDBY, lingering(("08:00", end))), STANDBY)
    assert len(found) == is_found
    if found:
        assert marked(found[0], STANDBY) == (33, 3, "strong")
        assert found[0].message == (
            "'strong' spends 1801 s a day between 0.2 V and 1 V, where its light is not defined"
        )


def test_the_seconds_of_a_day_are_added_up() -> None:
    day = lingering(("08:00", "08:20"), ("12:00", "12:20"))
    assert "spends 2400 s a day" in finding(CODE, handmade(STANDBY, day), STANDBY).message


def test_a_finer_time_step_allows_less() -> None:
    text = STANDBY.replace("time_step_minutes: 15", "time_step_minutes: 1")
    assert findings(CODE, handmade(text, lingering(("08:00", "08:02"))), text) == []
    found = finding(CODE, handmade(text, lingering(("08:00", "08:02:01"))), text)
    assert "spends 121 s a day" in found.message


def test_a_ballast_with_a_relay_has_no_such_band() -> None:
    assert findings(CODE, handmade(bench(), lingering(("08:00", "10:00")))) == []


def test_both_channels_are_found() -> None:
    program = handmade(STANDBY, lingering(("08:00", "09:00")))
    program = with_channel(program, "weak", undefined_seconds=1900)
    assert [marked(each, STANDBY) for each in findings(CODE, program, STANDBY)] == [
        (28, 3, "weak"),
        (33, 3, "strong"),
    ]


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: lingering(("08:00", "09:00"))}
    assert_only_in_table(CODE, two_dates(STANDBY, days.get(0), days.get(1)), table)
