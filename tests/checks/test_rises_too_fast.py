from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.channel_day import Role
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
    with_zone,
)

CODE = "PHO407"


def limited(most: float, zone: str = "crest") -> str:
    return bench(
        (
            f"{zone}: {{dark_hours_min: 0}}",
            f"{zone}: {{dark_hours_min: 0, ppfd_rise_per_minute_max: {most}}}",
        )
    )


def test_a_ramp_that_is_too_steep() -> None:
    assert_found(
        CODE,
        [("ppfd_max: 200", "ppfd_rise_per_minute_max: 1")],
        (24, 50, "1"),
        "zone 'crest' rises by",
    )


#: weak lights at 10:00 with 0.8 × 50 = 40, strong at 08:00 with 0.6 × 100 = 60 µmol m⁻² s⁻¹.
APART = Day(levels={"weak": [("10:00", 80), ("18:00", 0)]})


@pytest.mark.parametrize(
    ("most", "is_found"), [(60.1, False), (60, False), (59.9999995, False), (59.99999, True)]
)
def test_the_limit_is_kept_up_to_a_millionth(most: float, is_found: bool) -> None:
    text = limited(most)
    assert len(findings(CODE, handmade(text, APART), text)) == is_found


def test_a_rise_of_the_limit_and_a_millionth_is_within() -> None:
    text = limited(50)
    program = with_zone(handmade(text), "crest", steepest_rise_per_minute=50 + 1e-6)
    assert findings(CODE, program, text) == []


def test_the_steepest_minute_is_told() -> None:
    text = limited(50)
    found = finding(CODE, handmade(text, APART), text)
    assert marked(found, text) == (25, 56, "50")
    assert found.message == (
        "zone 'crest' rises by 60 µmol m⁻² s⁻¹ within the minute from 07:59, more than 50"
    )
    # both at once: 100
    assert "rises by 100 µmol" in finding(CODE, handmade(text), text).message


def test_the_rise_is_told_to_a_tenth() -> None:
    text = limited(50)
    program = with_zone(handmade(text), "crest", steepest_rise_per_minute=60.26)
    assert "rises by 60.3 µmol" in finding(CODE, program, text).message


def test_tubes_that_have_faded_rise_less() -> None:
    text = limited(50)
    faded = Day(levels=APART.levels, brightness={"strong": (0.5, 0.5)})  # 30, weak 40
    assert findings(CODE, handmade(text, faded), text) == []
    text = limited(39)
    message = finding(CODE, handmade(text, faded), text).message
    assert "rises by 40 µmol m⁻² s⁻¹ within the minute from 09:59" in message


def test_each_zone_has_a_limit_of_its_own() -> None:
    text = limited(7.9, "sand")  # 0.8 × 10 = 8
    assert marked(finding(CODE, handmade(text), text), text) == (26, 55, "7.9")
    assert findings(CODE, handmade()) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    steep = Day(levels={"strong": [("08:00", 70), ("18:00", 0)]})
    days = {table: steep}
    assert_only_in_table(CODE, two_dates(limited(100), days.get(0), days.get(1)), table)


def test_a_ramp_is_not_asked_of_a_channel_that_burns_in() -> None:
    """Undimmed light has no ramp: strong is dark or at full between 08:00 and 18:00."""
    text = limited(50)
    full = Day(
        levels={"weak": [("10:00", 80), ("18:00", 0)], "strong": [("08:00", 100), ("18:00", 0)]},
        roles={"strong": Role.FULL},
    )
    found = finding(CODE, handmade(text, full), text)
    assert "rises by 100 µmol" in found.message
    assert found.help is not None and "make the ramp longer" not in found.help
    assert found.help.startswith("'strong' burns in undimmed, so the light comes at once")
    assert "`burn_in: leave`" in found.help
    by_plan = finding(CODE, handmade(text, replace(full, roles={})), text)
    assert by_plan.help is not None and by_plan.help.startswith("make the ramp longer")


def test_a_ramp_beside_a_burn_in_can_be_made_longer() -> None:
    text = limited(30)
    beside = Day(
        levels={"weak": [("10:00", 80), ("18:00", 0)], "strong": [("00:00", 100)]},
        roles={"strong": Role.FULL},
    )
    found = finding(CODE, handmade(text, beside), text)
    assert found.help is not None and found.help.startswith("make the ramp longer")
