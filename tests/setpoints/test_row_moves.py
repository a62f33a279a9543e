"""Single rows that move: their light against triangles by hand, and errors by an independent window."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.drive.grid import Row
from photoperiod.drive.replay import play
from photoperiod.setpoints.row_moves import SIZES, RowMoves
from tests.setpoints.days import (
    HOUR,
    LINEAR,
    NIGHT,
    NOON,
    SQUARE,
    STANDBY,
    grid,
    one,
    path,
    ramps,
    target,
    tolerated,
)

#: On LINEAR, light equals level, and a count is 0.1 %.
FINE = path(LINEAR, step="0.1")
FEW = 6
SLACK = 1e-9


def moves_of(curve=NOON, p=FINE, times=None, rows: int = FEW, **words: bool) -> RowMoves:  # type: ignore[no-untyped-def]
    times = times or grid()
    aim = target(curve, p, **words)
    return RowMoves(aim, one(curve, p, times, rows), has_own_times=True)


SINE = ramps(9 * HOUR, 2 * HOUR, 0.8, 2 * HOUR, 21 * HOUR, "sine")


def test_a_count_up_is_a_triangle() -> None:
    # A row between neighbours T seconds apart, one count (0.1 %) up: half of T × 0.001 at full, but
    # for the rounding of each second to counts.
    table = moves_of(SINE)
    rows = table.rows
    inner = [n for n in range(1, len(rows)) if rows[n - 1].relay and rows[n].relay]
    ups = [m for m in table.single if m.number in inner and m.row.count == rows[m.number].count + 1]
    assert ups
    for move in ups:
        span = rows[(move.number + 1) % len(rows)].second - rows[move.number - 1].second
        assert move.more_s == pytest.approx(span / 2 * 0.001, rel=0.05)


@pytest.mark.parametrize(
    ("p", "times"),
    [
        (FINE, grid()),
        (path(SQUARE), grid()),
        (path(SQUARE), grid(300, "hold")),
        (path(STANDBY, step="0.5"), grid(60, "line", "hold")),
    ],
)
@pytest.mark.parametrize("curve", [SINE, NIGHT])
def test_what_moves_keeps_the_error_that_is_proven(curve, p, times) -> None:  # type: ignore[no-untyped-def]
    aim = target(curve, p)
    found = one(curve, p, times, FEW)
    table = RowMoves(aim, found, has_own_times=True)
    proof = found.certificate
    most = max(1.05 * proof.bound, proof.error) if proof.is_best else 1.05 * proof.error
    lit = found.replay.lit
    every = 1 if times.between == "hold" else 60
    for move in table.single:
        rows = table.moved([move])
        replay = play(rows, times, p.levels, p)
        least, upper = tolerated(rows, aim, times)
        errors = np.maximum(np.maximum(least - replay.light, replay.light - upper), 0.0)
        assert errors[::every].max() <= most + SLACK
        assert move.more_s == pytest.approx(
            float((replay.light - found.replay.light).sum()), abs=1e-6
        )
        if p.dark_by_row:
            assert (replay.lit == lit)[::60].all()
        assert sum(a != b for a, b in zip(rows, found.rows, strict=True)) == 1


def test_moves_of_rows_that_are_apart_add_up() -> None:
    table = moves_of(SINE, rows=10)
    a, b = next(
        (a, b)
        for a in table.single
        for b in table.single
        if table.are_apart(a.number, b.number) and a.more_s * b.more_s != 0
    )
    light = play(table.moved([a, b]), table.found.times, FINE.levels, FINE).light
    more_s = float((light - table.found.replay.light).sum())
    assert more_s == pytest.approx(a.more_s + b.more_s, abs=1e-6)
    proof = table.fit(table.moved([a, b])).certificate
    assert proof.error <= table.most_error + SLACK
    assert not table.are_apart(0, len(table.rows) - 1)
    assert not table.are_apart(1, 2)


def test_rows_that_switch_keep_their_time_and_dark_rows_stay() -> None:
    table = moves_of(SINE)
    first_lit = next(n for n, row in enumerate(table.rows) if row.relay)
    for move in table.single:
        before = table.rows[move.number]
        assert before.relay
        if move.number == first_lit:
            assert move.row.second == before.second
    seconds = {m.number for m in table.single if m.row.second != table.rows[m.number].second}
    assert seconds, "some row inside may stand earlier or later"


def test_rows_of_shared_times_move_in_level_only() -> None:
    aim = target(SINE, FINE)
    table = RowMoves(aim, one(SINE, FINE, grid(), FEW), has_own_times=False)
    assert table.single
    assert all(m.row.second == table.rows[m.number].second for m in table.single)


def test_what_must_not_exceed_its_plan_does_not() -> None:
    table = moves_of(SINE, may_exceed=False)
    light = target(SINE, FINE).reachable
    for move in table.single:
        given = play(table.moved([move]), table.found.times, FINE.levels, FINE).light
        assert (given[::60] <= np.maximum(light[::60], LINEAR.floor_light) + 1e-2).all()


def test_after_moves_the_allowed_error_stays() -> None:
    table = moves_of(SINE)
    move = table.single[0]
    after = table.after(table.moved([move]))
    assert after.most_error == table.most_error
    assert after.rows[move.number] == move.row
    assert table.rows != after.rows
    for again in after.single:
        assert after.fit(after.moved([again])).certificate.error <= table.most_error + SLACK


@pytest.mark.parametrize(
    ("p", "times"), [(FINE, grid()), (path(SQUARE), grid()), (path(SQUARE), grid(300, "hold"))]
)
@pytest.mark.parametrize("curve", [SINE, NIGHT])
def test_moves_are_those_that_keep_the_error_of_the_day_also_after_others(curve, p, times) -> None:  # type: ignore[no-untyped-def]
    aim = target(curve, p)
    table = RowMoves(aim, one(curve, p, times, 10), has_own_times=True)
    apart = [m for m in table.single if m.number == 3][-1:] + [
        m for m in table.single if m.number == 7
    ][-1:]
    every = 1 if times.between == "hold" else 60

    def keeps(rows: tuple[Row, ...]) -> bool:
        light = play(rows, times, p.levels, p).light
        least, most = tolerated(rows, aim, times)
        off = np.maximum(np.maximum(least - light, light - most), 0.0)[::every].max()
        return bool(off <= table.most_error + SLACK)

    for some in (table, table.after(table.moved(apart))):
        assert keeps(some.rows)
        light = play(some.rows, times, p.levels, p).light
        for move in some.single:
            assert keeps(some.moved([move]))
            more = play(some.moved([move]), times, p.levels, p).light - light
            assert move.more_s == pytest.approx(float(more.sum()), abs=1e-6)
        found = {(m.number, m.row.count) for m in some.single}
        for number, row in enumerate(some.rows):
            for sign in (-1, 1):
                for by in SIZES:
                    count = row.count + sign * by
                    ladder = some.channel.ladder
                    if not row.relay or not ladder.first <= count <= ladder.top:
                        break
                    other = replace(row, count=count)
                    if not keeps((*some.rows[:number], other, *some.rows[number + 1 :])):
                        break
                    assert (number, count) in found


def test_a_table_without_lit_rows_has_no_moves() -> None:
    from tests.setpoints.days import DARK

    assert moves_of(DARK).single == []
    assert Row(0, 0, False) in moves_of(DARK).rows
