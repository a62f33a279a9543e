"""Columns of a log that contradict each other.

By hand: a level of p % is p/10 V; the converter has 12 bits and 10 V, so that a code is p/100 × 4096, halves
up, and 4095 at most. 89 % is 8.9 V, code 3645 (3645.44), which gives 8.899 V. Code 2000 gives 4.883 V.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.arrays import Floats
from photoperiod.compare.contradictions import contradiction_findings
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.compare.model import Finding, Limits
from photoperiod.formats.table import read_table
from tests.compare.logs import START, Compare
from tests.conftest import Run

Q = Quantity

NOON_S = 12 * 3600


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    return Expected(held, held.clock(None))


def findings(expected: Expected, columns: dict[Quantity, Floats | list[float]]) -> list[Finding]:
    """Of records by the minute from noon on; what is no number is not in the log."""
    series = {}
    for quantity, values in columns.items():
        values = np.array(values, dtype=float)
        unix_s = START.timestamp() + NOON_S + 60.0 * np.arange(values.size)
        there = np.isfinite(values)
        series["blue", quantity] = Series("blue", quantity, unix_s[there], values[there])
    return list(contradiction_findings(expected, Log(series=series), Limits()))


def test_values_that_belong_together_are_not_reported(expected: Expected) -> None:
    assert not findings(
        expected,
        {
            Q.COUNT: [0, 10, 50, 89, 100],
            Q.CONVERTER_CODE: [0, 410, 2048, 3645, 4095],
            Q.VOLTS: [0, 1.001, 5, 8.899, 9.9976],
            Q.MILLIVOLTS: [0, 1001, 5000, 8899, 9998],
            Q.LEVEL_PERCENT: [0, 10, 50, 89, 100],
        },
    )


def test_all_that_contradicts_is_one_finding(expected: Expected) -> None:
    (found,) = findings(
        expected,
        {
            Q.COUNT: [89.0] * 6,
            Q.CONVERTER_CODE: [3645, 2000, 2000, 2000, 3645, 3645],
            Q.VOLTS: [8.899, 4.883, 4.883, 4.883, 8.899, 8.899],
            Q.LEVEL_PERCENT: [89, 49, 49, 49, 48, 89],
        },
    )
    assert (found.code, found.subject, found.is_warning) == ("PHO618", "blue", True)
    assert found.message == (
        "count, converter_code, volts and level_percent contradict each other in 4 records, first at"
        " 2027-03-02T12:01:00-01:00: count 89 (8.899 V), but converter_code 2000 (4.883 V), volts 4.883 and"
        " level_percent 49 (4.900 V); only count was compared with the table"
    )


@pytest.mark.parametrize(
    ("columns", "is_found"),
    [
        ({Q.COUNT: [89], Q.CONVERTER_CODE: [3645]}, False),
        ({Q.COUNT: [89], Q.CONVERTER_CODE: [3646]}, True),  # a code is exact
        ({Q.COUNT: [89], Q.CONVERTER_CODE: [3644]}, True),
        ({Q.COUNT: [89], Q.LEVEL_PERCENT: [89.5]}, False),  # half a percent is rounding
        ({Q.COUNT: [89], Q.LEVEL_PERCENT: [88]}, True),
        ({Q.CONVERTER_CODE: [3645], Q.LEVEL_PERCENT: [89]}, False),
        ({Q.CONVERTER_CODE: [2000], Q.LEVEL_PERCENT: [89]}, True),
        ({Q.VOLTS: [8.9] * 3, Q.LEVEL_PERCENT: [88] * 3}, False),
        ({Q.VOLTS: [8.9] * 3, Q.LEVEL_PERCENT: [84] * 3}, True),
        ({Q.VOLTS: [8.9] * 3, Q.MILLIVOLTS: [890] * 3}, True),
        ({Q.COUNT: [89, np.nan], Q.CONVERTER_CODE: [np.nan, 2000]}, False),  # not in one record
    ],
)
def test_each_pair_has_its_rounding(
    expected: Expected, columns: dict[Quantity, list[float]], is_found: bool
) -> None:
    assert bool(findings(expected, columns)) is is_found


def test_what_was_compared_instead_of_a_blank_is_held_against_the_rest(expected: Expected) -> None:
    """The count is blank from the second record on; there the level says half of what the volts say."""
    count, volts = [89.0] + [np.nan] * 4, [8.899] * 5
    columns = {Q.COUNT: count, Q.VOLTS: volts}
    assert not findings(expected, {**columns, Q.LEVEL_PERCENT: [89.0] * 5})
    (found,) = findings(expected, {**columns, Q.LEVEL_PERCENT: [89.0] + [45.0] * 4})
    assert found.message == (
        "volts and level_percent contradict each other in 4 records, first at 2027-03-02T12:01:00-01:00:"
        " volts 8.899, but level_percent 45 (4.500 V); only volts was compared with the table there"
    )
    light = [79.2] + [20.0] * 4
    (found,) = findings(expected, {**columns, Q.LIGHT_PERCENT: light})
    assert found.message.startswith("volts and light_percent contradict each other in 4 records")


@pytest.mark.parametrize("draw", ["uniform", "normal"])
def test_noise_of_a_meter_is_no_contradiction(expected: Expected, draw: str) -> None:
    """±0.3 V, drawn evenly, and as the standard deviation of a normal draw; then an hour of 4.883 V."""
    generator = np.random.default_rng(7)
    noise = (
        generator.uniform(-0.3, 0.3, 600) if draw == "uniform" else generator.normal(0, 0.3, 600)
    )
    volts = 8.899 + noise
    assert not findings(expected, {Q.COUNT: [89.0] * 600, Q.VOLTS: volts})
    volts[120:180] -= 8.899 - 4.883
    (found,) = findings(expected, {Q.COUNT: [89.0] * 600, Q.VOLTS: volts})
    assert "in 60 records, first at 2027-03-02T14:00:00-01:00" in found.message


def test_a_reading_may_be_a_slip_or_a_record_late(expected: Expected) -> None:
    volts = [8.899] * 9
    volts[4] = 4.883
    assert not findings(expected, {Q.COUNT: [89.0] * 9, Q.VOLTS: volts})
    volts[5] = 4.883
    assert findings(expected, {Q.COUNT: [89.0] * 9, Q.VOLTS: volts})
    counts, late = [0.0] * 30, [0.0] * 30
    counts[10:15], late[11:16] = [50.0] * 5, [5.0] * 5
    assert not findings(expected, {Q.COUNT: counts, Q.VOLTS: late})


#: Light of levels by hand, on the square-law ballast of the table with a relay: (volts / 10)², 1 % at least.
FADES = [(10, 1.0), (50, 25.0), (89, 79.2), (100, 99.95)]


@pytest.mark.parametrize("share", [1.0, 0.8, 0.55, 1.05])
def test_light_that_belongs_to_its_count_may_have_faded(expected: Expected, share: float) -> None:
    counts, light = zip(*FADES * 3, strict=True)
    assert not findings(
        expected, {Q.COUNT: list(counts), Q.LIGHT_PERCENT: [share * each for each in light]}
    )


def test_light_that_does_not_belong_to_its_count_is_found(expected: Expected) -> None:
    counts, light = [50.0] * 12, [25.0] * 5 + [79.2] * 3 + [25.0] * 4
    (found,) = findings(expected, {Q.COUNT: counts, Q.LIGHT_PERCENT: light})
    assert found.message == (
        "count and light_percent contradict each other in 3 records, first at 2027-03-02T12:05:00-01:00:"
        " count 50 (5.000 V), but light_percent 79.2; only count was compared with the table"
    )
    # all of it a third of what it should be is no fading
    assert findings(expected, {Q.COUNT: counts, Q.LIGHT_PERCENT: [each / 3 for each in light]})


def test_light_while_the_relay_is_open_is_found(expected: Expected) -> None:
    columns = {Q.COUNT: [89.0] * 9, Q.LIGHT_PERCENT: [79.2] * 6 + [0.0] * 3}
    assert not findings(expected, columns)  # no relay in the log: it may be open
    assert not findings(expected, {**columns, Q.RELAY: [1.0] * 6 + [0.0] * 3})
    assert findings(expected, {**columns, Q.RELAY: [1.0] * 3 + [0.0] * 6})


def test_a_replay_is_right_until_its_columns_are_changed(
    run: Run, table: Path, compare: Compare
) -> None:
    """The CSV of `replay` is read as it is; its times are those of the controller."""
    _, text, _ = run("replay", table, "--date", "2027-03-03", "--every", "1", "--format", "csv")
    code, out, err = compare(text, "--log-time-zone", "controller")
    assert (code, err) == (0, "") and "PHO618" not in out
    lines = text.splitlines()
    for at, line in enumerate(lines):
        cells = line.split(",")
        if "14:00:00" <= cells[1] <= "15:00:00":
            lines[at] = ",".join([*cells[:4], "2000", "4.883", "49", "24", "on"])
    code, out, _ = compare("\n".join(lines) + "\n", "--log-time-zone", "controller")
    assert code == 1
    assert "PHO618 columns-disagree: blue: " in out
    assert "in 61 records, first at 2027-03-03T14:00:00-01:00" in out
