from __future__ import annotations

from dataclasses import replace

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
    with_zone,
)

CODE = "PHO427"


def safe(weak: float | None, strong: float | None, ppfd_max: float, sand_max: float = 99) -> str:
    """Return BENCH with safe states, and limits of both zones."""

    def state(percent: float | None) -> str:
        return "" if percent is None else f"\n    safe_light_percent: {percent}"

    return bench(
        ("tubes: [tube-a]", f"tubes: [tube-a]{state(weak)}"),
        ("tubes: [tube-b]", f"tubes: [tube-b]{state(strong)}"),
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, ppfd_max: {ppfd_max}}}"),
        ("sand: {dark_hours_min: 0}", f"sand: {{dark_hours_min: 0, ppfd_max: {sand_max}}}"),
    )


def test_a_safe_state_near_full() -> None:
    assert_found(
        CODE,
        [("    tubes: [blue-a]\n", "    tubes: [blue-a]\n    safe_light_percent: 90\n"),
         ("ppfd_max: 200", "ppfd_max: 110")],
        (29, 25, "90"),
        "in the safe state zone 'crest' gets 117.3 µmol m⁻² s⁻¹, over its limit of 110",
    )  # fmt: skip


# In the safe state crest gets 0.8 × 50 + 0.5 × 100 = 90 µmol m⁻² s⁻¹.
@pytest.mark.parametrize(
    ("ppfd_max", "is_found"), [(90.1, False), (90, False), (89.9999995, False), (89.99999, True)]
)
def test_the_limit_is_kept_up_to_a_millionth(ppfd_max: float, is_found: bool) -> None:
    text = safe(80, 50, ppfd_max)
    found = findings(CODE, handmade(text), text)
    assert len(found) == is_found
    if found:
        assert "zone 'crest' gets 90 µmol m⁻² s⁻¹, over its limit of 90" in found[0].message


def test_the_limit_and_a_millionth_is_within() -> None:
    # strong alone at full: 100 µmol m⁻² s⁻¹, made a millionth more
    text = safe(0, 100, 100)
    program = handmade(text)
    (_, (strong, full_ppfd)) = program.zones["crest"].limit_sources
    assert full_ppfd == 100
    program = with_zone(program, "crest", limit_sources=((strong, 100 + 1e-6),))
    assert findings(CODE, program, text) == []


@pytest.mark.parametrize(
    ("weak", "strong", "place"),
    [
        (80, 50, (37, 25, "50")),  # 40 and 50
        (90, 40, (31, 25, "90")),  # 45 and 40
        (100, None, (31, 25, "100")),
        (None, 60, (36, 25, "60")),
    ],
)
def test_the_state_of_the_channel_that_gives_most_is_marked(
    weak: float | None, strong: float | None, place: tuple[int, int, str]
) -> None:
    text = safe(weak, strong, 30)
    assert marked(finding(CODE, handmade(text), text), text) == place


def test_a_lamp_whose_tubes_have_faded_is_not_blamed_before_a_brighter_one() -> None:
    # strong 0.5 × 100 × 0.7 = 35, weak 0.8 × 50 = 40
    text = safe(80, 50, 70)
    faded = Day(brightness={"strong": (0.7, 0.7)})
    found = finding(CODE, handmade(text, faded), text)
    assert "gets 75 µmol" in found.message
    assert marked(found, text) == (31, 25, "80")
    assert findings(CODE, handmade(safe(80, 50, 75), faded), text) == []


def test_tubes_count_as_bright_as_on_the_first_of_the_dates() -> None:
    text = safe(80, 50, 95)
    fading = Day(brightness={"strong": (1.2, 0.5)})  # 60 + 40 = 100, later 65
    assert "gets 100 µmol" in finding(CODE, handmade(text, fading), text).message
    rising = Day(brightness={"strong": (0.5, 1.2)})
    assert findings(CODE, handmade(text, rising), text) == []


def test_the_level_is_the_nearest_that_the_controller_can_emit() -> None:
    # 50.4 % is nearer to a level of 50 than to one of 51, below 50.1
    text = safe(0, 50.4, 50.1)
    assert findings(CODE, handmade(text), text) == []
    text = safe(0, 50.6, 50.1)
    assert "gets 51 µmol" in finding(CODE, handmade(text), text).message


def test_a_dark_safe_state_gives_no_light_whatever_the_day_gives() -> None:
    text = safe(None, None, 1, 1)
    assert findings(CODE, handmade(text), text) == []
    # the floor of a ballast that is never dark is no safe state of a keeper's choice
    never = safe(0, 0, 1, 1).replace("dark: {kind: relay}", "dark: {kind: never}").replace(
        "relay: {kind: column}", "relay: {kind: none}"
    )  # fmt: skip
    lit = Day(levels={"weak": [("00:00", 80)], "strong": [("00:00", 60)]})
    assert findings(CODE, handmade(never, lit), never) == []


def test_each_zone_has_a_limit_of_its_own() -> None:
    # sand gets 0.8 × 10 = 8 from weak, nothing from strong
    text = safe(80, 90, 500, 7.9)
    found = finding(CODE, handmade(text), text)
    assert "zone 'sand' gets 8 µmol m⁻² s⁻¹, over its limit of 7.9" in found.message
    assert marked(found, text) == (31, 25, "80")


def test_a_zone_without_a_limit() -> None:
    text = safe(80, 50, 10)
    program = handmade(text)
    zone = replace(program.zones["crest"].zone, ppfd_max=None)
    assert findings(CODE, with_zone(program, "crest", zone=zone), text) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    days = {table: Day(brightness={"strong": (1.1, 1.1)})}
    assert_only_in_table(CODE, two_dates(safe(80, 50, 90), days.get(0), days.get(1)), table)
