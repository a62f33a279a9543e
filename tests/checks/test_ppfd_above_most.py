from __future__ import annotations

import pytest

from tests.checks.bench import (
    Day,
    assert_found,
    bench,
    finding,
    findings,
    handmade,
    marked,
    two_dates,
    with_zone,
)

CODE = "PHO402"


def limited(ppfd_max: float) -> str:
    return bench(
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, ppfd_max: {ppfd_max}}}")
    )


def test_a_limit_below_the_peak() -> None:
    assert_found(
        CODE,
        [("ppfd_max: 200", "ppfd_max: 90")],
        (24, 34, "90"),
        "zone 'crest' gets 102.9 µmol m⁻² s⁻¹",
    )


# BENCH gives crest 0.8 × 50 + 0.6 × 100 = 100 µmol m⁻² s⁻¹; a millionth more is the same.
@pytest.mark.parametrize(
    ("ppfd_max", "is_found"), [(100.1, False), (100, False), (99.9999995, False), (99.99999, True)]
)
def test_the_limit_is_kept_up_to_a_millionth(ppfd_max: float, is_found: bool) -> None:
    text = limited(ppfd_max)
    assert len(findings(CODE, handmade(text), text)) == is_found


def test_a_peak_of_the_limit_and_a_millionth_is_within() -> None:
    text = limited(90)
    program = with_zone(handmade(text), "crest", peak_ppfd=90 + 1e-6)
    assert findings(CODE, program, text) == []


def test_the_finding_tells_when_and_how_long_and_marks_the_limit() -> None:
    # crest: 09:00 to 12:00 60, 12:00 to 12:30 60 + 0.7 × 50 = 95, then 60 + 40 = 100 to 14:00.
    day = Day(levels={"weak": [("12:00", 70), ("12:30", 80), ("14:00", 0)],
                      "strong": [("09:00", 60), ("18:00", 0)]})  # fmt: skip
    text = limited(94)
    found = finding(CODE, handmade(text, day), text)
    assert marked(found, text) == (25, 40, "94")
    assert found.message == (
        "zone 'crest' gets 100 µmol m⁻² s⁻¹ at 12:30, over its limit of 94 by 6, from 12:00 on,"
        " for 2 h 00 min a day"
    )
    assert finding(CODE, handmade(limited(96), day), text).message.endswith(
        "from 12:30 on, for 1 h 30 min a day"
    )


def test_a_second_at_the_limit_is_not_over_it() -> None:
    # Light is 1 from 09:00 to 10:00 (weak) and from 12:00 to 13:00 (both).
    day = Day(levels={"weak": [("09:00", 100), ("10:00", 0), ("12:00", 100), ("13:00", 0)],
                      "strong": [("12:00", 100), ("13:00", 0)]})  # fmt: skip
    text = limited(90)
    program = handmade(text, day)
    channels = program.channels
    program = with_zone(
        program,
        "crest",
        limit_sources=((channels["weak"], 90 + 1e-6), (channels["strong"], 10.0)),
        peak_ppfd=100 + 1e-6,
        peak_second=12 * 3600,
    )
    assert (
        "over its limit of 90 by 10, from 12:00 on, for 1 h 00 min"
        in finding(CODE, program, text).message
    )


def blamed(day: Day, ppfd_max: float = 50) -> str:
    text = limited(ppfd_max)
    found = finding(CODE, handmade(text, day), text)
    (related,) = found.related
    assert related.message == "gives most of it"
    assert related.path[0] == "channels"
    channel = str(related.path[1])
    assert found.help.endswith(f"'{channel}'")
    assert related.source_range is not None
    assert related.source_range.line == {"weak": 28, "strong": 33}[channel]
    return channel


def test_the_channel_that_gives_most_at_the_peak_is_blamed() -> None:
    assert blamed(Day()) == "strong"  # 60 of 100
    # 50 and 40: the one that is lower at full, but brighter at that moment
    dim = Day(levels={"weak": [("08:00", 100), ("18:00", 0)],
                      "strong": [("08:00", 40), ("18:00", 0)]})  # fmt: skip
    assert blamed(dim) == "weak"
    # strong gives 90 in the morning, but at the peak of 95 it gives 45 and weak 50
    later = Day(levels={"weak": [("12:00", 100), ("18:00", 0)],
                        "strong": [("08:00", 90), ("10:00", 0), ("12:00", 45), ("18:00", 0)]})  # fmt: skip
    assert blamed(later) == "weak"


def test_a_lamp_whose_tubes_have_faded_is_not_blamed_before_a_brighter_one() -> None:
    # At full light strong gives 0.3 × 99 = 29.7 and weak 0.9 × 100 = 90 µmol m⁻² s⁻¹.
    text = bench(
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, ppfd_max: 100}"),
        ("crest: 50", "crest: 100"),
        ("{zones: {crest: 100}}", "{zones: {crest: 99}}"),
    )
    day = Day(
        levels={"weak": [("08:00", 90), ("18:00", 0)], "strong": [("08:00", 100), ("18:00", 0)]},
        brightness={"strong": (0.3, 0.3)},
    )
    found = finding(CODE, handmade(text, day), text)
    assert "gets 119.7 µmol" in found.message
    assert found.related[0].path == ("channels", "weak")
    assert found.help.endswith("'weak'")


def test_tubes_count_as_bright_as_on_the_first_of_the_dates() -> None:
    # 100 × 1.1 = 110 on the first date, 100 × 0.9 = 90 on the last
    day = Day(brightness={"weak": (1.1, 0.9), "strong": (1.1, 0.9)})
    text = limited(105)
    assert "gets 110 µmol" in finding(CODE, handmade(text, day), text).message
    rising = Day(brightness={"weak": (0.9, 1.1), "strong": (0.9, 1.1)})
    assert findings(CODE, handmade(text, rising), text) == []


def test_only_the_zone_over_its_limit_is_found() -> None:
    # sand gets 0.8 × 10 = 8 from weak alone
    text = bench(
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, ppfd_max: 100}"),
        ("sand: {dark_hours_min: 0}", "sand: {dark_hours_min: 0, ppfd_max: 7.9}"),
    )
    found = finding(CODE, handmade(text), text)
    assert marked(found, text) == (26, 39, "7.9")
    assert found.related[0].path == ("channels", "weak")


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: Day(levels={"weak": [("08:00", 90), ("18:00", 0)]})}
    text = limited(100)
    found = finding(CODE, two_dates(text, days.get(0), days.get(1)), text)
    # 0.9 × 50 + 0.6 × 100 = 105
    assert (
        f"gets 105 µmol m⁻² s⁻¹ on 2027-03-0{table + 1} at 08:00, over its limit of 100 by 5"
        in (found.message)
    )
    assert "other table" not in found.message


def test_the_worst_date_is_told_and_the_others_are_named() -> None:
    bright, brighter = (Day(levels={"weak": [("08:00", at), ("18:00", 0)]}) for at in (90, 100))
    text = limited(100)
    found = finding(CODE, two_dates(text, bright, brighter), text)
    assert (
        "gets 110 µmol m⁻² s⁻¹ on 2027-03-02 at 08:00, over its limit of 100 by 10" in found.message
    )
    assert found.message.endswith("; and in 1 other table, from 2027-03-01")


def test_where_all_dates_are_alike_none_is_told() -> None:
    text = limited(90)
    found = finding(CODE, two_dates(text), text)
    assert "gets 100 µmol m⁻² s⁻¹ at 08:00, over its limit of 90 by 10" in found.message
    assert "table" not in found.message
