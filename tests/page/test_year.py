"""The actogram: where light, twilight, loads and clocks stand, and the numbers beside it."""

from __future__ import annotations

import datetime as dt
import re
from itertools import pairwise

import pytest

from photoperiod.formats import table_json
from photoperiod.page.figure import Figure
from photoperiod.page.year import (
    DOSE_RIGHT,
    HOURS,
    LABEL_GAP,
    NIGHT_LEFT,
    ROWS_LEFT,
    ROWS_RIGHT,
    TOP,
    year_figure,
)
from photoperiod.program.dates import DateSpan
from tests.page.pages import (
    FIRST,
    TWO_WEEKS,
    changed,
    compiled,
    example,
    page,
    places,
    program,
    table,
)
from tests.page.plain_table import PlainTable

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def figure(text: str, span: DateSpan) -> Figure:
    found = year_figure(program(text, span))
    assert found is not None
    return found


def boxes(found: Figure) -> list[tuple[float, float, float, float]]:
    """Return the boxes of all greys: left, top, width, height."""
    paths = "".join(shape.d for shape in found.shapes if shape.look.startswith("grey"))
    parts = re.findall(r"M(\S+) (\S+?)h(\S+?)v(\S+?)h", paths)
    return [tuple(map(float, part)) for part in parts]  # type: ignore[misc]


def test_one_date_has_no_year() -> None:
    assert year_figure(program()) is None
    assert year_figure(program(changed(), DateSpan(FIRST, FIRST))) is None


def test_light_stands_at_its_hours_on_all_dates() -> None:
    """The lamp of the tests is lit from 09:00 to 21:00."""
    found = figure(changed(), TWO_WEEKS)
    lit = [box for box in boxes(found) if box[1] == TOP]
    assert min(left for left, *_ in lit) == pytest.approx(HOURS.at(9), abs=0.06)
    right = max(left + width for left, _, width, _ in lit)
    assert HOURS.at(20.7) < right <= HOURS.at(21) + 0.06
    frame = next(shape.d for shape in found.shapes if shape.look == "frame")
    bottom = TOP + float(re.findall(r"v([\d.]+)h", frame)[0])
    assert {top + height for _, top, _, height in lit} == {bottom}


def test_dates_of_the_next_table_begin_where_those_of_the_last_end() -> None:
    year = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    found = boxes(figure(example("by-halves"), year))
    tops = {top for _, top, _, _ in found}
    ends = {round(top + height, 1) for _, top, _, height in found}
    assert len(ends) > 5
    # By hand: the last date ends 470 units below the first, and the scale of greys 16 below that.
    assert ends - tops == {TOP + 470, TOP + 486}


def test_each_zone_has_its_dose_and_the_night_what_it_needs() -> None:
    head, *rows = table(page(changed(), TWO_WEEKS), "Dose, in mol")
    assert head == ["dates", "crest", "night"]
    found = compiled(changed(), TWO_WEEKS)
    dose = PlainTable(table_json.render(found.program, found.findings)).dli("crest")
    assert rows == [["2027-03-02 to 2027-03-15", f"{dose:.2f}", "12 h 00 min"]]


def test_loads_are_ruled_and_numbered() -> None:
    found = figure(example("teaching-reef"), MARCH)
    rules = [places(s.d) for s in found.shapes if s.look == "load"]
    assert len([ends for ends in rules if ends[0][1] == ends[1][1]]) == 3
    assert [w.text for w in found.words if w.look == "load-number"] == ["1", "2", "3"]


def test_loads_that_are_close_keep_their_numbers() -> None:
    """By halves, tubes are fitted in March and in July, and each burn-in takes loads of a few days."""
    year = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    loads = program(example("by-halves"), year).loads
    numbers = [w for w in figure(example("by-halves"), year).words if w.look == "load-number"]
    assert [w.text for w in numbers] == [str(n + 1) for n in range(len(loads))]
    assert len(loads) == 7
    assert all(b.y - a.y >= LABEL_GAP - 1e-9 for a, b in pairwise(numbers))


def test_more_loads_than_have_room_are_marks_at_the_edge(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.page.year.LABEL_GAP", 200.0)
    found = figure(example("teaching-reef"), MARCH)
    assert not [w for w in found.words if w.look == "load-number"]
    marks = [places(shape.d) for shape in found.shapes if shape.look == "load"]
    assert [x for (x, _), _ in marks] == [ROWS_LEFT - 3] * 3
    assert all(x < ROWS_LEFT + 10 for _, (x, _) in marks)
    assert "A mark at the left edge is a load." in found.caption


def test_a_change_of_clocks_is_a_notch_in_both_edges() -> None:
    """Clocks of the European Union go forward on the last Sunday of March: Directive 2000/84/EC."""
    text = example("natural-year")
    found = figure(text, DateSpan(dt.date(2027, 3, 26), dt.date(2027, 3, 30)))
    notches = [shape.d for shape in found.shapes if shape.look == "notch"]
    assert [d.split(" ")[0] for d in notches] == [f"M{ROWS_LEFT:.0f}", f"M{ROWS_RIGHT:.0f}"]
    middle = {float(re.findall(r"L\S+ (\S+?)L", d)[0]) for d in notches}
    per_date = 14.0
    assert middle == {TOP + 2 * per_date}  # 28 March is the third of the dates


def test_sunrise_is_that_of_the_almanac() -> None:
    """38.1° N, 29.5° W, clock UTC−1: on 20 March the sun rises within minutes of 07:00.

    By hand: at the equinox sunrise is 6 h before local noon, less 4 min for refraction and the radius of
    the sun; noon is at 12:00 + 29.5/15 h − 1 h + 7.5 min (equation of time, Meeus, chapter 28).
    """
    span = DateSpan(dt.date(2027, 3, 20), dt.date(2027, 3, 21))
    found = figure(example("teaching-reef"), span)
    lines = [shape.d for shape in found.shapes if shape.look == "twilight"]
    assert len(lines) == 4
    x = float(re.match(r"M(\S+) ", lines[1])[1])  # type: ignore[index]
    expected = 12 + 29.5 / 15 - 1 + 7.5 / 60 - 6 - 4 / 60
    assert x == pytest.approx(HOURS.at(expected), abs=HOURS.at(0.06) - HOURS.at(0))


def test_dates_are_named_and_months_where_there_are_many() -> None:
    assert "03-02" in [w.text for w in figure(changed(), TWO_WEEKS).words]
    long = figure(changed(), DateSpan(FIRST, FIRST + dt.timedelta(days=364)))
    named = [w.text for w in long.words]
    assert "Jan ’28" in named
    assert "Aug" in named
    assert long.height < 700


def test_without_zones_the_light_of_channels_is_drawn() -> None:
    text = changed(
        ("zones:\n  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}\n", ""),
        ("    full_ppfd: {zones: {crest: 130}}\n", ""),
    )
    found = figure(text, TWO_WEEKS)
    assert "light of all channels" in found.title
    assert boxes(found)


def test_twilight_stands_in_the_middle_of_each_row() -> None:
    found = figure(example("teaching-reef"), MARCH)
    frame = next(shape.d for shape in found.shapes if shape.look == "frame")
    height = float(re.findall(r"v([\d.]+)h", frame)[0]) / 31
    rise = next(shape.d for shape in found.shapes if shape.look == "twilight")
    ys = [y for _, y in places(rise)]
    assert ys == pytest.approx([TOP + (n + 0.5) * height for n in range(31)], abs=0.06)


def test_a_moon_is_seen_in_the_year_and_its_light_is_told() -> None:
    found = figure(example("natural-year"), MARCH)
    (dots,) = [s for s in found.shapes if s.look == "faint" and "h" in s.d and len(s.d) > 100]
    lefts = [float(x) for x in re.findall(r"M(\S+) ", dots.d)]
    assert min(lefts) < HOURS.at(5) and max(lefts) > HOURS.at(20)
    (told,) = [w.text for w in found.words if w.text.startswith("faint, to ")]
    assert 0 < float(told.split()[2]) < 1
    assert told.endswith(" µmol m⁻² s⁻¹")
    assert "Dots are light that is too faint" in found.caption
    without = figure(changed(), TWO_WEEKS)
    assert not [s for s in without.shapes if s.look == "faint"]
    assert "Dots" not in without.caption


def test_numbers_of_two_scales_stand_apart() -> None:
    """On a phone a digit is about 5.6 user units wide (11 px)."""
    assert NIGHT_LEFT - 2.8 - (DOSE_RIGHT + 5.6) >= 8
