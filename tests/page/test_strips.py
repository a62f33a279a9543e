from __future__ import annotations

import pytest

from photoperiod.formats import table_json
from photoperiod.page.figure import Figure
from photoperiod.page.shown import shown_tables
from photoperiod.page.strips import CURVES, STRIP, strips_figure
from tests.page.pages import compiled, example, page, places, program, table
from tests.page.plain_table import PlainTable


def figure(text: str, *, has_rows: bool = True) -> Figure:
    (shown, *_) = shown_tables(program(text))
    hatches = dict.fromkeys(shown.table.channels, 0)
    return strips_figure(shown, hatches, 60, has_rows=has_rows)


def test_rows_of_the_page_are_those_of_the_file() -> None:
    found = compiled(example("smallest"))
    plain = PlainTable(table_json.render(found.program, found.findings))
    for id, expected in plain.rows.items():
        head, *rows = table(page(example("smallest")), f"{id}: rows of the table")
        assert head == ["time", "level %", "volts", "code", "relay", "light %"]
        assert len(rows) == len(expected)
        for row, told in zip(rows, expected, strict=True):
            assert row[0] == told["time"]
            assert float(row[1]) == told["level_percent"]
            assert float(row[2]) == pytest.approx(told["volts"], abs=5e-4)
            assert int(row[3]) == told["converter_code"]
            assert row[4] == told["relay"]
            light = plain.light(id, told["second"]) * 100
            assert float(row[5]) == pytest.approx(light, abs=5e-3)


def test_light_and_level_at_each_hour_are_those_of_the_file() -> None:
    found = compiled(example("smallest"))
    plain = PlainTable(table_json.render(found.program, found.findings))
    head, *rows = table(page(example("smallest")), "Light % / level % at each hour")
    for row in rows:
        second = int(row[0][:2]) * 3600
        for id, cell in zip(head[1:], row[1:], strict=True):
            light, level = map(float, cell.split(" / "))
            assert light == pytest.approx(plain.light(id, second) * 100, abs=0.051)
            assert level == plain.count(id, second)[0]  # a count is one percent here


def test_volts_of_the_peak_show_what_the_square_law_does() -> None:
    """By hand: 80 % of light is 8.944 V on a square-law ballast (DESIGN of the light path)."""
    (words,) = [each.text for each in figure(example("smallest")).words if "79.2" in each.text]
    assert words == "most 79.2 % at 8.90 V"


def test_each_channel_has_its_strip_below_the_one_before() -> None:
    found = figure(example("smallest"))
    names = [each for each in found.words if each.look == "name"]
    assert [each.text for each in names] == ["blue", "white"]
    assert names[1].y - names[0].y == STRIP


def test_rows_can_be_left_out() -> None:
    captions = [each.caption for each in figure(example("smallest"), has_rows=False).numbers]
    assert captions == ["Light % / level % at each hour"]


def test_a_faint_channel_has_a_scale_of_its_own_that_shows_it() -> None:
    """The moon of the example is to give 2 % of full."""
    found = figure(example("teaching-reef"))
    words = {each.y: each.text for each in found.words if each.look == "name"}
    y = next(y for y, text in words.items() if text == "LED moon, steady")
    (told,) = [w.text for w in found.words if w.y == y and w.look == "end"]
    assert told.startswith("own scale; most ")
    most = float(told.split()[3])
    (top,) = [w.text for w in found.words if w.y == y + 8 and w.look == "end"]
    assert most <= float(top) <= 10 and most / float(top) > 0.5
    lines = [s for s in found.shapes if s.reading and s.reading.name == "LED moon, steady, light"]
    (line,) = lines
    assert line.reading is not None
    highest = line.reading.base - min(py for _, py in places(line.d))
    assert highest * line.reading.per_unit == pytest.approx(most, abs=0.06)
    assert highest > CURVES / 2
    assert not [
        s for s in found.shapes if s.reading and s.reading.name == "LED moon, steady, level"
    ]
    assert [s for s in found.shapes if s.reading and s.reading.name == "Blue pair, level"]
    assert "scale of its own" in found.caption
    assert figure(example("smallest")).caption == ""
