"""The numbers of the day are those of an independent reader of `table.json`."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from photoperiod.formats import table_json
from photoperiod.page.day import day_figure, plan_ppfd, relay_is_open, zone_words
from photoperiod.page.figure import Figure
from photoperiod.page.hatches import hatches_of
from photoperiod.page.shown import shown_tables
from photoperiod.page.trace import SLACK
from tests.page.pages import SCHEDULE, changed, compiled, example, page, places, program, table
from tests.page.plain_table import PlainTable

#: Numbers of the page have one decimal.
ONE_DECIMAL = 0.05 + 1e-9


@functools.cache
def plain() -> PlainTable:
    found = compiled(example("smallest"))
    return PlainTable(table_json.render(found.program, found.findings))


def figure(text: str) -> Figure:
    (shown, *_) = shown_tables(program(text))
    (zone, *_) = shown.table.zones.values()
    return day_figure(shown, zone, hatches_of(shown.table.channels))


def test_light_at_each_hour_is_that_of_the_file() -> None:
    head, *rows = table(page(example("smallest")), "rock: PPFD at each hour")
    assert head == ["time", "table", "plan", "blue", "white"]
    assert len(rows) == 24
    for time, light, _, blue, white in rows:
        second = int(time[:2]) * 3600
        assert float(light) == pytest.approx(plain().ppfd("rock", second), abs=ONE_DECIMAL)
        for id, given in (("blue", blue), ("white", white)):
            full = plain().data["channels"][id]["full_ppfd"]["rock"]
            expected = full * plain().light(id, second)
            assert float(given) == pytest.approx(expected, abs=ONE_DECIMAL)
    assert max(float(row[1]) for row in rows) > 150, "the day is not dark"


def test_channels_that_share_a_hatch_share_a_column_of_numbers() -> None:
    """Ten channels alike, 80 % of 130 from each at 15:00: seven have a hatch alone, three share one."""
    begin = SCHEDULE.index("  blue:\n")
    one = SCHEDULE[begin : SCHEDULE.index("tank: bench")].replace("    tubes: [blue-a]\n", "")
    text = changed(("  channels: 2\n", "  channels: 10\n"), ("ppfd_max: 200", "ppfd_max: 2000"))
    more = "".join(one.replace("blue:", f"c{n}:") for n in range(1, 10))
    head, *rows = table(page(text.replace("tank: bench", f"{more}tank: bench")), "crest: PPFD at")
    assert head == ["time", "table", "plan", "blue", *(f"c{n}" for n in range(1, 7)), "3 others"]
    noon = next(row for row in rows if row[0] == "15:00")
    one_gives = float(noon[3])
    assert one_gives == pytest.approx(0.8 * 130, abs=2)  # a level in whole percents
    assert float(noon[-1]) == pytest.approx(3 * one_gives, abs=3 * ONE_DECIMAL)
    assert float(noon[1]) == pytest.approx(10 * one_gives, abs=10 * ONE_DECIMAL)


def test_the_plan_is_that_of_the_file() -> None:
    """By hand: 80 % of 130 from blue and 70 % of 120 from white at their peaks."""
    _, *rows = table(page(example("smallest")), "rock: PPFD at each hour")
    at = {row[0]: float(row[2]) for row in rows}
    assert at["15:00"] == pytest.approx(0.8 * 130 + 0.7 * 120, abs=ONE_DECIMAL)
    assert at["03:00"] == 0


def test_peak_and_its_time_are_those_of_the_file() -> None:
    (zone,) = program(example("smallest")).zones.values()
    assert zone.peak_ppfd == pytest.approx(plain().ppfd("rock", zone.peak_second))
    every_minute = max(plain().ppfd("rock", second) for second in range(0, 86_400, 60))
    assert f"Peak {every_minute:.1f} µmol" in zone_words(zone)
    assert "(limit 250)" in zone_words(zone)
    assert "(8 h needed)" in zone_words(zone)


def test_the_plan_by_minute_is_the_sum_of_the_channels() -> None:
    (zone,) = program().zones.values()
    found = plan_ppfd(zone)
    assert found.shape == (1441,)
    assert found[15 * 60] == pytest.approx(0.8 * 130)  # the schedule of the tests, by hand


def test_the_relay_is_open_where_rows_say_so() -> None:
    (blue,) = program().channels.values()
    is_open = relay_is_open(blue)
    assert is_open[3 * 3600]
    assert not is_open[15 * 3600]
    follows = changed(
        ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 5}")
    )
    (blue,) = program(follows).channels.values()
    assert relay_is_open(blue)[3 * 3600]
    assert not relay_is_open(blue)[15 * 3600]


def test_where_nothing_opens_no_relay_is_drawn() -> None:
    (never, *_) = program(example("never-dark")).channels.values()
    assert not np.any(relay_is_open(never))


def test_a_limit_is_drawn_where_it_is_near_and_told_where_it_is_far() -> None:
    near, far = figure(changed()), figure(changed(("ppfd_max: 200", "ppfd_max: 2000")))
    assert any(shape.look == "limit" for shape in near.shapes)
    assert "limit 200" in [each.text for each in near.words]
    assert not any(shape.look == "limit" for shape in far.shapes)
    assert "(limit 2000)" in far.caption


def test_names_stand_in_wide_hatches_alone() -> None:
    texts = [each.text for each in figure(changed()).words]
    assert "blue" in texts
    narrow = changed(
        ("09:00, minutes: 60", "20:30, minutes: 10"), ("minutes: 60}\n", "minutes: 10}\n")
    )
    assert "blue" not in [each.text for each in figure(narrow).words]


def test_a_dark_day_is_told() -> None:
    dark = changed(("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 0}]"))
    assert "No channel lights the zone on this day." in figure(dark).about


def test_hatches_stand_on_each_other_up_to_the_outline() -> None:
    found = figure(example("smallest"))
    layers = [places(each.d) for each in found.shapes if each.look.startswith("hatch")]
    (outline,) = (places(each.d) for each in found.shapes if each.look == "outline")
    tops = [min(y for _, y in layer) for layer in layers]
    assert len(layers) == 2
    assert tops[0] > tops[1]
    assert tops[1] == pytest.approx(min(y for _, y in outline), abs=2 * SLACK)
    scale = next(each.reading for each in found.shapes if each.reading)
    (zone,) = program(example("smallest")).zones.values()
    peak = (scale.base - min(y for _, y in outline)) * scale.per_unit
    assert peak == pytest.approx(zone.peak_ppfd, rel=0.01)
