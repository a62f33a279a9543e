from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.program.model import Program
from photoperiod.schedule.day_plan import MoonlightKind
from tests.checks.bench import Day, assert_found, bench, finding, findings, handmade, marked, on

CODE = "PHO423"
MOON = (
    "channels:\n",
    "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
    "    moonlight: {kind: steady, light_percent: 2, start: 21:00, end: 09:00}\n",
)


def moonlit(light: float, crest: float, sand: float = 0, text: str = bench()) -> str:
    """Return BENCH with a moon: its light in per cent, and its PPFD at full in both zones."""
    zones = f"crest: {crest}" + (f", sand: {sand}" if sand else "")
    return text + (
        f"  moon:\n    ballast: pair\n    full_ppfd: {{zones: {{{zones}}}}}\n"
        f"    moonlight: {{kind: steady, light_percent: {light}, start: 21:00, end: 06:00}}\n"
    )


def days(*dates: int) -> list[Day]:
    return [Day(first=on(date), levels={"moon": [("06:00", 0), ("21:00", 50)]}) for date in dates]


def test_two_per_cent_of_a_strong_channel() -> None:
    assert_found(
        CODE,
        [MOON],
        (29, 5, "moonlight"),
        "the moonlight of 'moon' gives zone 'crest' up to 0.4 µmol m⁻² s⁻¹; from 0.15 on",
    )


# Half of 0.3 is 0.15 µmol m⁻² s⁻¹.
@pytest.mark.parametrize(("full_ppfd", "is_found"), [(0.299, False), (0.3, True), (0.301, True)])
def test_fifteen_hundredths_are_too_bright(full_ppfd: float, is_found: bool) -> None:
    text = moonlit(50, full_ppfd)
    found = findings(CODE, handmade(text, *days(1)), text)
    assert len(found) == is_found
    if found:
        assert marked(found[0], text) == (41, 5, "moonlight")
        assert "gives zone 'crest' up to 0.15 µmol m⁻² s⁻¹" in found[0].message


@pytest.mark.parametrize(
    ("crest", "sand", "zone", "ppfd"), [(0.4, 0.6, "sand", "0.3"), (0.6, 0.4, "crest", "0.3"),
                                        (0.2, 0.4, "sand", "0.2")],
)  # fmt: skip
def test_the_zone_that_gets_most_is_told(crest: float, sand: float, zone: str, ppfd: str) -> None:
    text = moonlit(50, crest, sand)
    found = finding(CODE, handmade(text, *days(1)), text)
    assert f"gives zone '{zone}' up to {ppfd} µmol" in found.message


def test_light_below_the_floor_is_that_of_the_floor() -> None:
    # 6 % is nearer to the floor of 10 % than to dark: 0.1 × 2 = 0.2, not 0.06 × 2 = 0.12
    text = moonlit(6, 2)
    assert "up to 0.2 µmol" in finding(CODE, handmade(text, *days(1)), text).message
    text = moonlit(4, 9)  # nearer to dark
    assert findings(CODE, handmade(text, *days(1)), text) == []


def test_the_top_of_the_port_is_all_there_is() -> None:
    # a port that ends at 5 V gives 50 % of 0.2 = 0.1, whatever the plan says
    half = bench(("most_volts: 10.0", "most_volts: 5.0"))
    text = moonlit(100, 0.2, text=half)
    low = {"weak": [("08:00", 0)], "strong": [("08:00", 0)], "moon": [("21:00", 0)]}
    assert findings(CODE, handmade(text, Day(levels=low)), text) == []
    text = moonlit(100, 0.2)
    assert "up to 0.2 µmol" in finding(CODE, handmade(text, *days(1)), text).message


def test_the_volts_of_the_port_count_not_the_levels_of_the_table() -> None:
    # The port gives 55 %, levels of 10 % end at 50 %: 0.55 × 0.28 = 0.154, 0.5 × 0.28 = 0.14.
    coarse = bench(("most_volts: 10.0", "most_volts: 5.5"), ("step: 1,", "step: 10,"))
    text = moonlit(100, 0.28, text=coarse)
    low = {"weak": [("08:00", 0)], "strong": [("08:00", 0)], "moon": [("21:00", 0)]}
    assert "up to 0.15 µmol" in finding(CODE, handmade(text, Day(levels=low)), text).message


def test_ppfd_is_that_at_which_it_was_measured() -> None:
    """Tubes that have faded may be new again at any time."""
    text = moonlit(50, 0.3)
    faded = Day(first=on(1), levels=days(1)[0].levels, brightness={"moon": (0.5, 0.5)})
    assert "up to 0.15 µmol" in finding(CODE, handmade(text, faded), text).message


def test_the_moonlight_is_found_once_for_all_dates() -> None:
    text = moonlit(50, 0.4)
    assert len(findings(CODE, handmade(text, *days(1, 2, 3)), text)) == 1


def test_a_day_may_be_bright() -> None:
    assert findings(CODE, handmade()) == []


def test_two_moons_are_found_in_the_order_of_the_file() -> None:
    text = moonlit(50, 0.4)
    weak = "    day: {kind: points, points: [{time: 08:00, light_percent: 80}, {time: 18:00, light_percent: 80}]}\n"  # noqa: E501
    text = text.replace(
        weak, weak + "    moonlight: {kind: steady, light_percent: 10, start: 21:00, end: 06:00}\n"
    )
    found = findings(CODE, handmade(text, *days(1)), text)
    assert [each.path for each in found] == [
        ("channels", "weak", "moonlight"),
        ("channels", "moon", "moonlight"),
    ]
    assert "'weak' gives zone 'crest' up to 5 µmol" in found[0].message  # 0.1 × 50


def by_the_moon(program: Program) -> Program:
    """Return a program whose moon is that of a full moon on such nights only."""
    channels = program.schedule.channels
    moonlight = channels["moon"].moonlight
    assert moonlight is not None
    phase = replace(moonlight, kind=MoonlightKind.PHASE)
    changed = {**channels, "moon": replace(channels["moon"], moonlight=phase)}
    return replace(program, schedule=replace(program.schedule, channels=changed))


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        # 20 % of 0.4 is 0.08; half of it, which the plan has under a full moon, is 0.2
        (
            (0, 20),
            "up to 0.2 µmol m⁻² s⁻¹ under a full moon (the tables of these dates give at most 0.08);",
        ),
        (
            (0, 0),
            "up to 0.2 µmol m⁻² s⁻¹ under a full moon (the tables of these dates give at most 0);",
        ),
        ((50, 0), "up to 0.2 µmol m⁻² s⁻¹ under a full moon; from 0.15 on"),
    ],
)
def test_a_moon_that_is_not_full_on_these_dates_is_told_as_one(
    levels: tuple[int, int], words: str
) -> None:
    text = moonlit(50, 0.4)
    nights = [
        Day(first=on(date), levels={"moon": [("06:00", 0), ("21:00", level)]})
        for date, level in enumerate(levels, 1)
    ]
    assert words in finding(CODE, by_the_moon(handmade(text, *nights)), text).message
    if not any(levels):  # without dates nothing is known of the moon
        program = by_the_moon(handmade(text, Day(levels=nights[0].levels)))
        assert "under a full moon; from 0.15 on" in finding(CODE, program, text).message
