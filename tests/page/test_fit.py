"""Errors of the page are those of the light that an independent reader finds in `table.json`."""

from __future__ import annotations

import math
import re

import pytest

from photoperiod.formats import table_json
from photoperiod.page.fit import fit_figure
from photoperiod.page.shown import shown_tables
from photoperiod.setpoints.fit import errors_of
from tests.page.pages import changed, compiled, example, page, places, program, table
from tests.page.plain_table import PlainTable


def plan(second: int) -> float:
    """Return the light wanted by the schedule of the tests, by hand: ramps of an hour to 80 %."""
    hour = second / 3600
    return 0.8 * max(min(hour - 9, 21 - hour, 1.0), 0.0)


def test_the_error_in_the_day_is_that_of_the_file_beside_the_plan() -> None:
    found = compiled(changed())
    (blue,) = found.program.channels.values()
    errors = errors_of(blue.curve_and_target()[1], blue.fit)
    plain = PlainTable(table_json.render(found.program, found.findings))
    for second in range(
        10 * 3600 + 60, 20 * 3600 - 60, 977
    ):  # the plateau, where time does not count
        off = abs(plain.light("blue", second) - plan(second))
        assert errors[second] == pytest.approx(off, abs=1e-9)
    assert errors.max() == blue.fit.worst_light_error


def test_numbers_are_those_of_the_summary() -> None:
    (blue,) = program().channels.values()
    row = table(page(), "Errors in % of full light")[1]
    assert float(row[2]) == pytest.approx(blue.fit.worst_light_error * 100, abs=5e-4)
    assert float(row[4]) == pytest.approx(blue.fit.certificate.bound * 100, abs=5e-4)
    assert float(row[4]) <= float(row[3]) + 5e-4, "nothing is better than what is proven"


def test_each_lit_channel_has_its_curve_and_its_bound() -> None:
    (shown,) = shown_tables(program(example("smallest")))
    found = fit_figure(shown)
    looks = [shape.look for shape in found.shapes]
    assert looks.count("bound") == looks.count("error") == 2
    readings = [shape.reading for shape in found.shapes if shape.reading]
    assert all(math.isfinite(each.per_unit) for each in readings)


def test_a_dark_day_has_no_error() -> None:
    dark = changed(("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 0}]"))
    (shown,) = shown_tables(program(dark))
    assert not [s for s in fit_figure(shown).shapes if s.look == "error"]


def test_the_curve_is_as_high_as_the_error() -> None:
    (shown,) = shown_tables(program())
    (blue,) = shown.table.channels.values()
    curve = next(shape for shape in fit_figure(shown).shapes if shape.reading)
    assert curve.reading is not None
    top = min(y for _, y in places(curve.d))
    drawn = (curve.reading.base - top) * curve.reading.per_unit
    errors = errors_of(blue.curve_and_target()[1], blue.fit)
    assert float(errors[::60].max()) < 0.9 * float(errors.max())  # it lasts for seconds
    assert drawn == pytest.approx(float(errors.max()) * 100, rel=0.02)


def test_the_end_of_the_scale_stands_where_its_label_says() -> None:
    (shown,) = shown_tables(program(example("smallest")))
    found = fit_figure(shown)
    curves = [shape.reading for shape in found.shapes if shape.reading]
    ends = [y for s in found.shapes if s.look == "grid" for _, y in places(s.d)][::2]
    labels = [w for w in found.words if w.look == "end" and re.fullmatch("[0-9.]+", w.text)]
    assert len(curves) == len(ends) == len(labels) == 2
    for curve, end, label in zip(curves, ends, labels, strict=True):
        assert (curve.base - end) * curve.per_unit == pytest.approx(float(label.text), rel=1e-6)
        assert label.y == end + 4  # half a digit below the rule
