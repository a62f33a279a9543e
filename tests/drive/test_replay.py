"""The player in whole numbers against a slow one in fractions, and vectors worked by hand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import LightSteps, levels_of, play, seconds_around
from tests.conftest import drawn

ROUNDINGS = ("half-up", "down", "toward-last-row")
DAY = 86_400
HOUR = 3600

LINE_WRAP = TimeGrid(step_s=60, between="line", after_last_row="wrap")
LINE_HOLD = TimeGrid(step_s=60, between="line", after_last_row="hold")
HOLD_WRAP = TimeGrid(step_s=60, between="hold", after_last_row="wrap")
HOLD_HOLD = TimeGrid(step_s=60, between="hold", after_last_row="hold")


# A slow player ------------------------------------------------------------------------------------


def slow(
    rows: Sequence[Row], times: TimeGrid, every: int, rounding: str, second: int
) -> tuple[int, bool]:
    """What the table says at a second, by the words of the language only."""
    now = second // every * every
    past = [row for row in rows if row.second <= now]
    wraps = times.after_last_row == "wrap"
    if past:
        row = past[-1]
        since = now - row.second
    elif wraps:
        row = rows[-1]
        since = now - row.second + DAY
    else:
        return rows[0].count, rows[0].relay is not False
    later = [other for other in rows if other.second > row.second] if past else rows
    if later:
        following = later[0]
        span = (following.second - row.second - 1) % DAY + 1
    elif wraps:
        following = rows[0]
        span = following.second + DAY - row.second
    else:
        following, span = row, DAY
    relay = row.relay is not False
    if times.between == "hold":
        return row.count, relay
    exact = row.count + (following.count - row.count) * Fraction(since, span)
    if rounding == "half-up":
        return math.floor(exact + Fraction(1, 2)), relay
    if rounding == "down":
        return math.floor(exact), relay
    assert rounding == "toward-last-row"
    moved = exact - row.count
    return row.count + (math.floor(moved) if moved >= 0 else -math.floor(-moved)), relay


def assert_plays_alike(
    rows: Sequence[Row], times: TimeGrid, every: int, rounding: str, seconds: Iterable[int]
) -> None:
    counts, relays = levels_of(rows, times, every, rounding)
    assert counts.shape == relays.shape == (DAY,)
    for second in seconds:
        wanted = slow(rows, times, every, rounding, second)
        assert (int(counts[second]), bool(relays[second])) == wanted, f"at second {second}"


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[Row], int]:
    """Rows on a grid, and the step of that grid."""
    step = draw(st.sampled_from([1, 15, 60, 300, 900, 3600, 43_200]))
    steps = DAY // step
    times = draw(
        st.sets(st.one_of(st.integers(0, steps - 1), st.sampled_from([0, steps - 1])),
                min_size=1, max_size=min(8, steps))
    )  # fmt: skip
    top = draw(st.sampled_from([1, 100, 4095, 100_000]))
    with_relay = draw(st.booleans())
    rows = [
        Row(
            index * step,
            draw(st.one_of(st.integers(0, top), st.sampled_from([0, top]))),
            draw(st.booleans()) if with_relay else None,
        )
        for index in sorted(times)
    ]
    return rows, step


@settings(max_examples=drawn(120))
@given(
    table=tables(),
    between=st.sampled_from(["line", "hold"]),
    after=st.sampled_from(["wrap", "hold"]),
    rounding=st.sampled_from(ROUNDINGS),
    every_choice=st.integers(0, 5),
)
def test_any_table_plays_as_the_slow_player_says(
    table: tuple[list[Row], int], between: str, after: str, rounding: str, every_choice: int
) -> None:
    rows, step = table
    divisors = [every for every in (1, 2, 5, 15, 60, 3600) if step % every == 0]
    every = divisors[every_choice % len(divisors)]
    times = TimeGrid(step_s=step, between=between, after_last_row=after)
    near = {(row.second + offset) % DAY for row in rows for offset in range(-3, 4)}
    assert_plays_alike(
        rows, times, every, rounding, sorted({*near, 0, DAY - 1, *range(0, DAY, 211)})
    )


#: A day with everything in it: rows at the first and the last step, rising, falling, level, dark.
FULL_TABLE = [
    Row(0, 3, True), Row(60, 0, False), Row(9 * HOUR, 10, True), Row(10 * HOUR + 420, 89, True),
    Row(15 * HOUR, 89, True), Row(15 * HOUR + 60, 1, True), Row(20 * HOUR, 97, False),
    Row(DAY - 60, 50, True),
]  # fmt: skip


#: Seconds from one that is looked at to the next: seven meet every second of a minute.
EVERY = pytest.mark.parametrize("apart", [7, pytest.param(1, marks=pytest.mark.slow)])


@EVERY
@pytest.mark.parametrize("rounding", ROUNDINGS)
@pytest.mark.parametrize("times", [LINE_WRAP, LINE_HOLD], ids=["wrap", "hold"])
def test_every_second_of_a_day_of_lines(times: TimeGrid, rounding: str, apart: int) -> None:
    assert_plays_alike(FULL_TABLE, times, 1, rounding, range(0, DAY, apart))


@pytest.mark.parametrize("times", [HOLD_WRAP, HOLD_HOLD], ids=["wrap", "hold"])
def test_every_second_of_a_day_of_steps(times: TimeGrid) -> None:
    assert_plays_alike(FULL_TABLE, times, 1, "half-up", range(DAY))


# Vectors by hand ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rounding", "rising", "falling"),
    [
        # 0 → 5 within 10 s: exact 0, ½, 1, 1½, 2, 2½, 3, 3½, 4, 4½, 5
        # 5 → 0 within 10 s: exact 5, 4½, 4, 3½, 3, 2½, 2, 1½, 1, ½, 0
        ("half-up", [0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5], [5, 5, 4, 4, 3, 3, 2, 2, 1, 1, 0]),
        ("down", [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5], [5, 4, 4, 3, 3, 2, 2, 1, 1, 0, 0]),
        # integer division in C drops the fraction of the change, so the fall lags behind
        ("toward-last-row", [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5], [5, 5, 4, 4, 3, 3, 2, 2, 1, 1, 0]),
    ],
)
def test_halves_by_hand(rounding: str, rising: list[int], falling: list[int]) -> None:
    rows = [Row(100, 0), Row(110, 5), Row(200, 5), Row(210, 0)]
    counts, _ = levels_of(rows, LINE_WRAP, 1, rounding)
    assert counts[100:111].tolist() == rising
    assert counts[200:211].tolist() == falling


@pytest.mark.parametrize(
    ("rounding", "rising", "falling"),
    [
        # 0 → 2 within 3 s: 0, ⅔, 1⅓, 2; back: 2, 1⅓, ⅔, 0
        ("half-up", [0, 1, 1, 2], [2, 1, 1, 0]),
        ("down", [0, 0, 1, 2], [2, 1, 0, 0]),
        ("toward-last-row", [0, 0, 1, 2], [2, 2, 1, 0]),
    ],
)
def test_thirds_by_hand(rounding: str, rising: list[int], falling: list[int]) -> None:
    rows = [Row(0, 0), Row(3, 2), Row(50, 2), Row(53, 0)]
    counts, _ = levels_of(rows, LINE_HOLD, 1, rounding)
    assert counts[:4].tolist() == rising
    assert counts[50:54].tolist() == falling


def test_a_line_goes_on_across_midnight() -> None:
    # 22:00 at 100, 02:00 at 20: 80 counts in 4 h, one in 180 s; 60 at midnight
    rows = [Row(2 * HOUR, 20), Row(22 * HOUR, 100)]
    counts, _ = levels_of(rows, LINE_WRAP, 1, "half-up")
    assert counts[[22 * HOUR, 23 * HOUR, DAY - 90, 0, HOUR, 2 * HOUR]].tolist() == [
        100, 80, 61, 60, 40, 20,
    ]  # fmt: skip
    assert counts[12 * HOUR] == 60  # and back by day: 80 counts in 20 h


def test_without_a_way_across_midnight_the_last_row_stays_and_the_first_applies_from_zero() -> None:
    rows = [Row(2 * HOUR, 20, False), Row(22 * HOUR, 100, True)]
    for times in (LINE_HOLD, HOLD_HOLD):
        counts, relays = levels_of(rows, times, 1, "half-up")
        assert (counts[22 * HOUR :] == 100).all()
        assert (counts[: 2 * HOUR + 1] == 20).all()
        assert relays[22 * HOUR :].all()
        assert not relays[: 22 * HOUR].any()


@pytest.mark.parametrize("times", [LINE_WRAP, LINE_HOLD, HOLD_WRAP, HOLD_HOLD])
@pytest.mark.parametrize("second", [0, 60, 12 * HOUR, DAY - 60])
@pytest.mark.parametrize("relay", [True, False, None])
def test_one_row_is_the_whole_day(times: TimeGrid, second: int, relay: bool | None) -> None:
    counts, relays = levels_of([Row(second, 42, relay)], times, 1, "half-up")
    assert (counts == 42).all()
    assert (relays == (relay is not False)).all()


def test_the_relay_holds_from_its_row_to_the_next_whatever_the_level_does() -> None:
    rows = [Row(8 * HOUR, 0, True), Row(9 * HOUR, 100, True), Row(20 * HOUR, 0, False)]
    _, relays = levels_of(rows, LINE_WRAP, 1, "half-up")
    assert not relays[: 8 * HOUR].any()
    assert relays[8 * HOUR : 20 * HOUR].all()
    assert not relays[20 * HOUR :].any()


def test_the_output_moves_only_every_so_many_seconds() -> None:
    # 0 → 60 within 60 s, looked at every 15 s
    rows = [Row(0, 0), Row(60, 60)]
    counts, _ = levels_of(rows, LINE_WRAP, 15, "half-up")
    assert counts[[0, 14, 15, 29, 30, 44, 45, 59, 60]].tolist() == [
        0, 0, 15, 15, 30, 30, 45, 45, 60,
    ]  # fmt: skip


def test_large_products_do_not_overflow() -> None:
    # 100,000 counts × 86,399 s is more than 32 bits hold
    counts, _ = levels_of([Row(0, 0), Row(DAY - 1, 100_000)], LINE_HOLD, 1, "half-up")
    assert counts[43_200] == 50_001  # 100,000 × 43,200 / 86,399 = 50,000.58
    assert counts[DAY - 1] == 100_000


@settings(max_examples=drawn(60))
@given(table=tables(), after=st.sampled_from(["wrap", "hold"]), rounding=st.sampled_from(ROUNDINGS))
def test_levels_stay_between_their_rows(
    table: tuple[list[Row], int], after: str, rounding: str
) -> None:
    rows, step = table
    times = TimeGrid(step_s=step, between="line", after_last_row=after)
    counts, _ = levels_of(rows, times, 1, rounding)
    assert counts.min() == min(row.count for row in rows)
    assert counts.max() == max(row.count for row in rows)
    for row in rows:
        assert counts[row.second] == row.count
    changes = np.abs(np.diff(counts))
    if len(rows) > 1:
        steepest = max(
            Fraction(abs(b.count - a.count), (b.second - a.second - 1) % DAY + 1)
            for a, b in zip(rows, [*rows[1:], rows[0]], strict=True)
        )
        assert changes.max() <= math.ceil(steepest)


# Faults -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "rows",
    [[], [Row(60, 1), Row(60, 2)], [Row(60, 1), Row(0, 2)], [Row(0, 1), Row(9, 2), Row(3, 4)]],
)
def test_rows_that_do_not_rise_are_refused(rows: list[Row]) -> None:
    with pytest.raises(ValueError, match="seconds rise"):
        levels_of(rows, LINE_WRAP, 1, "half-up")


def test_an_unknown_rounding_is_refused() -> None:
    with pytest.raises(ValueError, match="bankers"):
        levels_of([Row(0, 1), Row(60, 5)], LINE_WRAP, 1, "bankers")


# Light --------------------------------------------------------------------------------------------

PATH = LightPath(
    levels=LevelGrid(unit="percent", step=Fraction(1), every_seconds=1, rounding="down"),
    converter=Converter.nominal(10, 10.24, 10.0),  # 10 mV a code
    ballast=BallastCurve(
        kind="linear", floor_volts=1.0, full_volts=10.0, floor_light=0.1, dark="relay"
    ),
    relay=RelayMode(kind="column"),
)

#: Light of whole percents of level on a line through 10 % and 100 %.
LIGHT_TOLERANCE = 1e-12


def test_a_played_table_gives_the_light_of_its_levels() -> None:
    rows = [Row(9 * HOUR, 10, True), Row(10 * HOUR, 100, True), Row(20 * HOUR, 0, False)]
    replay = play(rows, LINE_WRAP, PATH.levels, PATH)
    # 90 counts in 3600 s: one in 40 s; rounded down by the level grid
    assert replay.counts[9 * HOUR + 39] == 10
    assert replay.counts[9 * HOUR + 40] == 11
    assert replay.light[9 * HOUR + 40] == pytest.approx(0.11, abs=LIGHT_TOLERANCE)
    # from 10:00 the level falls toward the row that switches off, 100 counts in 10 h
    assert replay.light[10 * HOUR] == pytest.approx(1.0, abs=LIGHT_TOLERANCE)
    assert replay.light[15 * HOUR] == pytest.approx(0.5, abs=LIGHT_TOLERANCE)
    assert replay.light[20 * HOUR - 1] == pytest.approx(0.1, abs=LIGHT_TOLERANCE)  # its floor
    assert replay.light[20 * HOUR] == 0.0
    assert (replay.lit == replay.relay_on).all()
    assert replay.full.sum() == 1  # at 10:00:00 only: one second later it is 99.99 counts, so 99
    assert replay.lit.sum() == 11 * HOUR


def test_another_rounding_can_be_tried() -> None:
    rows = [Row(0, 10, True), Row(60, 11, True)]
    down = play(rows, LINE_HOLD, PATH.levels, PATH)
    half_up = play(rows, LINE_HOLD, PATH.levels, PATH, "half-up")
    assert down.counts[[29, 30, 59, 60]].tolist() == [10, 10, 10, 11]
    assert half_up.counts[[29, 30, 59, 60]].tolist() == [10, 11, 11, 11]


@settings(max_examples=drawn(60))
@given(
    tables=st.tuples(tables(), tables()),
    times=st.sampled_from([LINE_WRAP, LINE_HOLD, HOLD_WRAP]),
    roundings=st.tuples(st.sampled_from(ROUNDINGS), st.sampled_from(ROUNDINGS)),
)
def test_steps_of_light_are_the_light_of_each_second(
    tables: tuple[tuple[list[Row], int], tuple[list[Row], int]],
    times: TimeGrid,
    roundings: tuple[str, str],
) -> None:
    lights, steps = [], []
    for (rows, step), rounding in zip(tables, roundings, strict=True):
        within = [replace(row, count=row.count % 101) for row in rows]
        grid = replace(times, step_s=step)
        replay = play(within, grid, PATH.levels, PATH, rounding)
        counts, relay_on = levels_of(within, grid, PATH.levels.every_seconds, rounding)
        lights.append(PATH.light(counts, relay_on))
        for found in (replay.light_steps, LightSteps.of(lights[-1])):
            lasts = np.diff(found.begins, append=DAY)
            assert (lasts > 0).all()
            assert np.array_equal(np.repeat(found.light, lasts), lights[-1])
        assert np.array_equal(replay.light_steps.light_at(np.arange(DAY)), lights[-1])
        steps.append(replay.light_steps)
    assert steps[0].farthest(steps[1]) == np.abs(lights[0] - lights[1]).max()


@settings(max_examples=drawn(60))
@given(
    table=tables(),
    times=st.sampled_from([LINE_WRAP, LINE_HOLD, HOLD_WRAP]),
    rounding=st.sampled_from(ROUNDINGS),
    top=st.sampled_from([100, 4095]),
    seconds=st.lists(st.integers(0, DAY - 1), max_size=20),
)
def test_some_seconds_are_played_as_they_are_in_the_day(
    table: tuple[list[Row], int],
    times: TimeGrid,
    rounding: str,
    top: int,
    seconds: list[int],
) -> None:
    rows, step = table
    grid, fine = replace(times, step_s=step), replace(PATH.levels, step=Fraction(100, top))
    path = replace(PATH, levels=fine, converter=Converter.nominal(12, 10.0, 10.0))
    rows = [replace(row, count=min(row.count, path.top_count)) for row in rows]
    counts, relays = levels_of(rows, grid, 1, rounding)
    at = np.array(seconds, dtype=np.int64)
    for some in (
        play(rows, grid, fine, path, rounding, seconds=at),
        play(rows, grid, fine, path, rounding).at(at),
    ):
        assert some.counts.tolist() == counts[at].tolist()
        assert some.relay_on.tolist() == relays[at].tolist()
        assert some.light.tolist() == path.light(counts, relays)[at].tolist()


@pytest.mark.parametrize("every_s", [1, 60])
@pytest.mark.parametrize("number", range(4))
def test_a_row_has_a_say_between_its_neighbours_only(number: int, every_s: int) -> None:
    rows = (
        Row(3_600, 0, True),
        Row(30_010, 40, True),
        Row(50_000, 90, True),
        Row(80_000, 10, True),
    )
    times = TimeGrid(step_s=10, between="line", after_last_row="wrap")
    moved = (*rows[:number], replace(rows[number], count=50), *rows[number + 1 :])
    a, b = (levels_of(each, times, every_s, "half-up")[0] for each in (rows, moved))
    around = seconds_around(rows, number, every_s)
    outside = np.setdiff1d(np.arange(86_400), around)
    assert (a[outside] == b[outside]).all()
    assert (a[around] != b[around]).mean() > 0.9
    assert seconds_around(rows[:2], 0, every_s).size == 86_400
