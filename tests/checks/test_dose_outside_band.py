from __future__ import annotations

import pytest

from photoperiod.checks.dose_outside_band import dose_outside_band
from photoperiod.checks.run import run_checks
from photoperiod.program.dated_tables import compile_program
from tests.changes.bench import ACCLIMATION, DARK, scheduled, span, text_with
from tests.checks.bench import (
    Day,
    assert_found,
    bench,
    finding,
    findings,
    handmade,
    marked,
    on,
    two_dates,
    with_zone,
)

CODE = "PHO405"


def banded(low: float, high: float) -> str:
    return bench(
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, dli: [{low}, {high}]}}")
    )


def all_known(text: str) -> str:
    """Return a schedule of BENCH in which strong gives nothing to sand, and that is known."""
    assert text.count("{zones: {crest: 100}}") == 1
    return text.replace("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 0}}")


@pytest.mark.parametrize(
    ("band", "words"),
    [
        ("[9, 14]", "zone 'crest' gets a DLI of 4.08 mol m⁻² d⁻¹, below its band of 9 to 14"),
        ("[1, 2]", "above its band of 1 to 2"),
    ],
)
def test_a_dose_on_either_side(band: str, words: str) -> None:
    assert_found(CODE, [("dli: [3, 5]", f"dli: {band}")], (24, 16, band), words)


# BENCH gives crest 100 µmol m⁻² s⁻¹ for 10 h: 100 × 36,000 s / 1,000,000 = 3.6 mol m⁻² d⁻¹.
@pytest.mark.parametrize(
    ("low", "high", "side"),
    [
        (3.5, 4, ""), (3.6, 4, ""), (3.61, 4, "below"),
        (3, 3.7, ""), (3, 3.6, ""), (3, 3.59, "above"),
    ],
)  # fmt: skip
def test_both_ends_belong_to_the_band(low: float, high: float, side: str) -> None:
    text = banded(low, high)
    found = findings(CODE, handmade(text), text)
    assert len(found) == bool(side)
    if found:
        assert marked(found[0], text) == (25, 35, f"[{low}, {high}]")
        assert f"{side} its band of {low} to {high}" in found[0].message


def test_the_channels_are_listed_by_what_they_give() -> None:
    # weak 0.8 × 50 × 0.036 = 1.44, strong 0.6 × 100 × 0.036 = 2.16; 4.5 / 3.6 = 1.25
    text = all_known(banded(4.5, 9))
    found = finding(CODE, handmade(text), text)
    assert found.message == (
        "zone 'crest' gets a DLI of 3.6 mol m⁻² d⁻¹, below its band of 4.5 to 9"
        " by 0.9 (by channel: strong 2.16, weak 1.44)"
    )
    assert (
        "multiply the light of all days by 1.25: `light_percent` of 'weak' 100, 100" in found.help
    )


def test_the_factor_leads_to_the_nearer_end() -> None:
    text = all_known(banded(1, 1.8))
    assert "by 0.5:" in finding(CODE, handmade(text), text).help  # 1.8 / 3.6


def test_no_factor_brings_light_to_a_dark_zone() -> None:
    text = banded(1, 2)
    dark = Day(levels={"weak": [("08:00", 0)], "strong": [("08:00", 0)]})
    found = finding(CODE, handmade(text, dark), text)
    assert "gets a DLI of 0 mol" in found.message
    assert found.help == ""


def test_a_lamp_whose_tubes_have_faded_is_listed_by_what_it_gives_now() -> None:
    # strong 2.16 × 0.5 = 1.08 comes after weak 1.44
    text = banded(3, 9)
    day = Day(brightness={"strong": (0.5, 0.5)})
    message = finding(CODE, handmade(text, day), text).message
    assert "a DLI of 2.52 mol" in message
    assert "(by channel: weak 1.44, strong 1.08)" in message
    assert " last of its dates" not in message


@pytest.mark.parametrize(("low", "is_found"), [(2.5, False), (2.52, False), (2.53, True)])
def test_the_dose_of_the_last_date_counts_too(low: float, is_found: bool) -> None:
    # from 3.6 on the first date to 1.44 + 2.16 × 0.5 = 2.52 on the last
    text = banded(low, 9)
    program = handmade(text, Day(brightness={"strong": (1.0, 0.5)}))
    program = with_zone(program, "crest", dli_at_end=2.52)
    found = findings(CODE, program, text)
    assert len(found) == is_found
    if found:
        assert found[0].message == (
            "zone 'crest' gets a DLI of 2.52 mol m⁻² d⁻¹ on the last of its dates, below its band of"
            " 2.53 to 9 by 0.01 (by channel: weak 1.44, strong 1.08)"
        )


@pytest.mark.parametrize(
    ("low", "high", "at_end", "side"), [(3.6, 9, 0.5, "below"), (1, 3.6, 1.5, "above")]
)
def test_a_dose_at_the_end_of_the_band_may_leave_it_later(
    low: float, high: float, at_end: float, side: str
) -> None:
    text = banded(low, high)
    program = handmade(text, Day(brightness={"strong": (1.0, at_end)}))
    message = finding(CODE, program, text).message
    assert f"on the last of its dates, {side} its band" in message


def test_the_share_of_the_last_date_follows_from_that_of_the_first() -> None:
    # weak 1.44; strong 2.16 × 0.8 = 1.728 on the first date, 2.16 × 0.4 = 0.864 on the last
    text = banded(3, 9)
    day = Day(brightness={"strong": (0.8, 0.4)})
    message = finding(CODE, handmade(text, day), text).message
    assert "a DLI of 2.3 mol m⁻² d⁻¹ on the last of its dates" in message
    assert "(by channel: weak 1.44, strong 0.86)" in message


def test_the_dose_is_that_of_the_table_not_of_the_plan() -> None:
    # weak is planned at 80 % and gets 50 %: 0.5 × 50 × 0.036 = 0.9
    text = banded(4, 9)
    day = Day(levels={"weak": [("08:00", 50), ("18:00", 0)]})
    message = finding(CODE, handmade(text, day), text).message
    assert "a DLI of 3.06 mol" in message
    assert "(by channel: strong 2.16, weak 0.9)" in message


def test_the_four_channels_that_give_most_are_listed() -> None:
    more = "".join(
        f"  {name}:\n    ballast: pair\n    full_ppfd: {{zones: {{crest: {ppfd}}}}}\n"
        "    day: {kind: points, points: [{time: 08:00, light_percent: 0},"
        " {time: 18:00, light_percent: 0}]}\n"
        for name, ppfd in (("dim", 10), ("bright", 200), ("middle", 30))
    )
    lit = {name: [("08:00", 100), ("18:00", 0)] for name in ("dim", "bright", "middle")}
    text = banded(1, 2) + more
    # 200 × 0.036 = 7.2, 30 × 0.036 = 1.08; dim gives 0.36
    message = finding(CODE, handmade(text, Day(levels=lit)), text).message
    assert "(by channel: bright 7.2, strong 2.16, weak 1.44, middle 1.08)" in message


def test_the_dose_of_the_last_date_may_be_too_large() -> None:
    text = banded(3, 4)
    day = Day(brightness={"strong": (1.0, 1.5)})  # 1.44 + 2.16 × 1.5 = 4.68
    message = finding(CODE, handmade(text, day), text).message
    assert "a DLI of 4.68 mol m⁻² d⁻¹ on the last of its dates, above its band" in message


def test_the_date_that_is_farthest_outside_is_told() -> None:
    # 3.6 on the first date, 1.44 + 2.16 × 0.5 = 2.52 on the last: both below 4
    text = banded(4, 9)
    day = Day(brightness={"strong": (1.0, 0.5)}, first=on(1), last=on(5))
    message = finding(CODE, handmade(text, day), text).message
    assert "a DLI of 2.52 mol m⁻² d⁻¹ on 2027-03-05, below" in message
    rising = Day(brightness={"strong": (0.5, 1.0)}, first=on(1), last=on(5))
    message = finding(CODE, handmade(text, rising), text).message
    assert "a DLI of 2.52 mol m⁻² d⁻¹ on 2027-03-01, below" in message


def test_a_zone_that_goes_from_one_side_to_the_other_has_two_findings() -> None:
    # 1.44 + 2.16 × 1.5 = 4.68 on the first date, 2.52 on the last
    text = banded(3, 4)
    day = Day(brightness={"strong": (1.5, 0.5)}, first=on(1), last=on(5))
    below, above = findings(CODE, handmade(text, day), text)
    assert "a DLI of 2.52 mol m⁻² d⁻¹ on 2027-03-05, below" in below.message
    assert "a DLI of 4.68 mol m⁻² d⁻¹ on 2027-03-01, above" in above.message
    assert below.help == above.help == ""


def test_a_zone_without_a_band_has_no_dose_to_keep() -> None:
    assert findings(CODE, handmade()) == []
    text = bench(("sand: {dark_hours_min: 0}", "sand: {dark_hours_min: 0, dli: [0.3, 1]}"))
    # sand gets 0.8 × 10 × 0.036 = 0.288 from weak alone
    found = finding(CODE, handmade(text), text)
    assert marked(found, text) == (26, 34, "[0.3, 1]")
    # strong's `full_ppfd` leaves sand out: what it gives there is not known
    assert "(by channel: weak 0.29; not known of strong)" in found.message
    assert found.help == ""  # what strong gives to sand is not known, so no factor can be tried


@pytest.mark.parametrize("table", [0, 1])
def test_the_worst_of_all_tables_is_told_once(table: int) -> None:
    # 0.5 × 100 × 0.036 = 1.8 in place of 2.16: 3.24 in all
    dim = Day(levels={"strong": [("08:00", 50), ("18:00", 0)]})
    days = {table: dim}
    text = banded(3.61, 9)
    found = finding(CODE, two_dates(text, days.get(0), days.get(1)), text)
    assert f"a DLI of 3.24 mol m⁻² d⁻¹ on 2027-03-0{table + 1}, below" in found.message


def test_other_tables_outside_on_the_same_side_are_named() -> None:
    text = banded(3, 4)
    bright, dim = {"strong": (1.5, 1.5)}, {"strong": (0.5, 0.5)}  # 4.68 and 2.52; by the plan 3.6
    days = [
        Day(first=on(1), brightness=bright),
        Day(first=on(2), brightness=dim),
        Day(first=on(3)),
        Day(first=on(4), last=on(6), brightness={"strong": (1.0, 0.6)}),  # 2.74 on the last date
        Day(first=on(7), brightness=dim),
    ]
    below, above = findings(CODE, handmade(text, *days), text)
    assert below.message.endswith("; and in 2 other tables, from 2027-03-04, 2027-03-07")
    assert " other " not in above.message


def test_a_zone_that_fades_through_its_band_is_told_on_both_sides() -> None:
    text = banded(3, 4)
    # weak 1.44; strong 2.16 × 1.5 = 3.24 on the first date, 2.16 × 0.5 = 1.08 on the last
    day = Day(brightness={"strong": (1.5, 0.5)})
    below, above = findings(CODE, handmade(text, day), text)
    assert (
        "a DLI of 4.68 mol m⁻² d⁻¹, above its band of 3 to 4 by 0.68 (by channel: strong 3.24, weak 1.44)"
        in (above.message)
    )
    assert (
        "a DLI of 2.52 mol m⁻² d⁻¹ on the last of its dates, below its band of 3 to 4 by 0.48"
        in below.message
    )


def test_tables_on_either_side_of_the_band_are_not_one_finding() -> None:
    text = banded(3, 4)
    days = [
        Day(first=on(1), brightness={"strong": (1.5, 1.5)}),
        Day(first=on(2)),  # 3.6
        Day(first=on(3), brightness={"strong": (0.5, 0.5)}),
    ]
    found, _ = run_checks(handmade(text, *days))
    messages = [each.message for each in found if each.code == CODE]
    assert len(messages) == 2
    assert "a DLI of 2.52 mol m⁻² d⁻¹ on 2027-03-03, below" in messages[0]
    assert "a DLI of 4.68 mol m⁻² d⁻¹ on 2027-03-01, above" in messages[1]


@pytest.mark.parametrize(("low", "least", "side"), [(3, 3.0, ""), (3, 2.99, "below")])
def test_the_lower_end_is_held_against_the_darkest_place(
    low: float, least: float, side: str
) -> None:
    # the mean of the zone is 3.6, well inside
    text = banded(low, 4)
    program = with_zone(handmade(text), "crest", dli_least=least, dli_least_at_end=least)
    found = findings(CODE, program, text)
    assert len(found) == bool(side)
    if found:
        assert "gets a DLI of 3.6, in its darkest place 2.99 mol m⁻² d⁻¹, below" in found[0].message


def test_the_upper_end_is_held_against_the_mean() -> None:
    text = banded(1, 3.5)
    program = with_zone(handmade(text), "crest", dli_least=2.0, dli_least_at_end=2.0)
    (found,) = findings(CODE, program, text)
    assert "gets a DLI of 3.6 mol m⁻² d⁻¹, above" in found.message


def test_dark_days_and_acclimation_are_not_below_the_band_of_the_plan() -> None:
    banded = text_with(ACCLIMATION, DARK).replace(
        "crest: {ppfd_max", "crest: {dli: [5, 9], ppfd_max"
    )
    program = compile_program(scheduled(ACCLIMATION, DARK, text=banded.split("changes:")[0]),
                              span("2027-04-01", "2027-06-10"))  # fmt: skip
    doses = [table.zones["crest"].dli.replay for table in program.tables]
    assert min(doses) == 0 and max(doses) > 5
    assert list(dose_outside_band(program)) == []
    too_low = text_with().replace("crest: {ppfd_max", "crest: {dli: [8, 9], ppfd_max")
    program = compile_program(
        scheduled(ACCLIMATION, text=too_low), span("2027-04-28", "2027-04-29")
    )
    (found,) = dose_outside_band(program)  # the plan itself is below
    assert "on 2027-04-29, below" in found.message
