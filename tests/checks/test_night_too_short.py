from __future__ import annotations

import pytest

from photoperiod.program.model import Program
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

CODE = "PHO408"
MOON = (
    "channels:\n",
    "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
    "    moonlight: {kind: steady, light_percent: 2, start: 21:00, end: 09:00}\n",
)


def wanting(hours: float, zone: str = "crest") -> str:
    return bench((f"{zone}: {{dark_hours_min: 0}}", f"{zone}: {{dark_hours_min: {hours}}}"))


def test_moonlight_all_night() -> None:
    assert_found(
        CODE,
        [MOON, ("light_percent: 2,", "light_percent: 3,")],
        (24, 3, "crest"),
        "zone 'crest' is below 0.15 µmol m⁻² s⁻¹ for 0 h 00 min at a stretch, less than 8 h",
    )


def test_a_day_that_is_too_long() -> None:
    assert_found(
        CODE, [("dark_hours_min: 8", "dark_hours_min: 13")], (24, 3, "crest"), "less than 13 h"
    )


# BENCH is lit from 08:00 to 18:00: a night of 14 h.
@pytest.mark.parametrize(
    ("hours", "is_found"), [(13.99, False), (14, False), (14.0000000001, False), (14.001, True)]
)
def test_a_night_of_fourteen_hours(hours: float, is_found: bool) -> None:
    text = wanting(hours)
    assert len(findings(CODE, handmade(text), text)) == is_found


def test_a_millionth_of_a_second_may_be_missing() -> None:
    text = wanting(14)
    program = with_zone(handmade(text), "crest", night_s=14 * 3600 - 1e-6)
    assert findings(CODE, program, text) == []
    program = with_zone(handmade(text), "crest", night_s=14 * 3600 - 1.05e-6)
    assert len(findings(CODE, program, text)) == 1


def test_the_longest_stretch_is_told() -> None:
    # dark 00:00 to 08:00, 12:00 to 16:00 and 20:00 to 24:00: 12 h across midnight
    day = Day(levels={id: [("08:00", 50), ("12:00", 0), ("16:00", 50), ("20:00", 0)]
                      for id in ("weak", "strong")})  # fmt: skip
    text = wanting(12.5)
    found = finding(CODE, handmade(text, day), text)
    assert found.message == (
        "zone 'crest' is below 0.15 µmol m⁻² s⁻¹ for 12 h 00 min at a stretch, less than 12.5 h"
    )
    assert marked(found, text) == (25, 3, "crest")


#: Both channels are lit around the clock and darkest from 03:00 to 04:00.
ALWAYS = Day(levels={"weak": [("00:00", 80), ("03:00", 50), ("04:00", 80)],
                     "strong": [("00:00", 90), ("03:00", 20), ("04:00", 90)]})  # fmt: skip


def test_the_channel_that_gives_most_at_the_darkest_is_named() -> None:
    # 0.5 × 50 = 25 from weak, 0.2 × 100 = 20 from strong, which gives 90 in other hours
    text = wanting(8)
    found = finding(CODE, handmade(text, ALWAYS), text)
    assert found.message.endswith(
        "; even when it is darkest, at 03:00, it gets 45, most of it from 'weak'"
    )


def test_a_lamp_whose_tubes_have_faded_is_not_named_before_a_brighter_one() -> None:
    # 25 × 0.5 = 12.5 from weak, 20 from strong
    text = wanting(8)
    faded = Day(levels=ALWAYS.levels, brightness={"weak": (0.5, 0.5)})
    found = finding(CODE, handmade(text, faded), text)
    assert found.message.endswith("it gets 32.5, most of it from 'strong'")


def lit_around_the_clock(ppfd: float) -> tuple[str, Program]:
    text = wanting(8)
    lit = Day(levels={"weak": [("00:00", 100)], "strong": [("00:00", 100)]})
    program = handmade(text, lit)
    return text, with_zone(
        program, "crest", limit_sources=((program.channels["weak"], ppfd),), night_s=0
    )


@pytest.mark.parametrize(("ppfd", "is_named"), [(0.16, True), (0.15, True), (0.149, False)])
def test_light_from_fifteen_hundredths_on_is_no_night(ppfd: float, is_named: bool) -> None:
    text, program = lit_around_the_clock(ppfd)
    found = finding(CODE, program, text)
    assert ("most of it from 'weak'" in found.message) == is_named


@pytest.mark.parametrize(("full_ppfd", "is_found"), [(0.1499, False), (0.15, True), (0.1501, True)])
def test_a_night_is_below_fifteen_hundredths(full_ppfd: float, is_found: bool) -> None:
    # strong is lit at full around the clock and gives all of its full_ppfd
    text = bench(
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 8}"),
        ("{zones: {crest: 100}}", f"{{zones: {{crest: {full_ppfd}}}}}"),
    )
    day = Day(levels={"weak": [("00:00", 0)], "strong": [("00:00", 100)]})
    assert len(findings(CODE, handmade(text, day), text)) == is_found


def test_each_zone_has_a_night_of_its_own() -> None:
    # sand gets light from weak alone, which is dark from 12:00 to 18:00 only
    text = wanting(8, "sand")
    day = Day(levels={"weak": [("12:00", 0), ("18:00", 20)]})
    found = finding(CODE, handmade(text, day), text)
    assert marked(found, text) == (26, 3, "sand")
    assert "for 6 h 00 min at a stretch" in found.message


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    long = Day(levels={"weak": [("08:00", 80), ("18:15", 0)]})
    days = {table: long}
    assert_only_in_table(CODE, two_dates(wanting(14), days.get(0), days.get(1)), table)
