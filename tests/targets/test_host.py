"""The C player on this machine gives the integers of the reference, for every second."""

from __future__ import annotations

import datetime as dt
import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings

from photoperiod.formats import c_header
from photoperiod.formats.image import Image, day_number, encode
from tests.conftest import drawn
from tests.targets.images import HARD, about, days, expected, expected_day, images, moments
from tests.targets.players import load_order, on_host
from tests.targets.tools import compile_host, run

TOO_WIDE = 6

WIDE = {"wide", "wide-down", "wide-codes", "wide-codes-below-zero"}


@pytest.mark.parametrize("name", HARD)
def test_every_second_of_hard_images(name: str, host: Path, host_wide: Path) -> None:
    made = HARD[name]
    whole_days = days(made)
    wanted = np.concatenate([expected(made, moments(made)),
                             *(expected_day(made, day) for day in whole_days)])  # fmt: skip
    for program in (host, host_wide):
        if made.is_wide and program is host:
            continue
        verdict, outputs, played = on_host(
            program, load_order(encode(made)), len(made.channels), moments(made), whole_days
        )
        assert (verdict, outputs) == (0, len(made.channels))
        assert np.array_equal(played, wanted)


def test_hard_images_are_hard() -> None:
    assert {name for name, made in HARD.items() if made.is_wide} == WIDE
    assert {made.rounding for made in HARD.values()} == {"half-up", "down", "toward-last-row"}
    assert {made.relay for made in HARD.values()} == {"none", "column", "follows-level"}
    for name, most in (("sixteen-bits-overflow", 2**15), ("nearly-wide", 2**29)):
        assert any(
            abs(later.count - row.count) * ((later.second - row.second) % 86_400) > most
            for rows in HARD[name].sets
            for row, later in zip(rows, rows[1:] + rows[:1], strict=True)
        )


@settings(max_examples=drawn(40))
@given(made=images())
def test_every_second_of_drawn_images(host: Path, host_wide: Path, made: Image) -> None:
    program = host_wide if made.is_wide else host
    day = days(made)[-1]
    wanted = np.concatenate([expected(made, moments(made)), expected_day(made, day)])
    verdict, _, played = on_host(
        program, load_order(encode(made)), len(made.channels), moments(made), [day]
    )
    assert verdict == 0
    assert np.array_equal(played, wanted)


@pytest.mark.parametrize("name", sorted(WIDE))
def test_32_bits_refuse_wide_images_and_stay_dark(name: str, host: Path) -> None:
    made = HARD[name]
    verdict, outputs, played = on_host(
        host, load_order(encode(made)), len(made.channels), moments(made)
    )
    assert (verdict, outputs) == (TOO_WIDE, 0)
    assert (played["status"] == 1).all()
    for key in ("count", "code", "relay"):
        assert not played["outputs"][key].any()


@pytest.mark.parametrize("plus_plus", [False, True], ids=["C99", "C++11"])
@pytest.mark.parametrize("name", ["dated-and-shared", "wide-down", "listed-codes"])
def test_exported_headers_play_their_own_table(name: str, plus_plus: bool, tmp_path: Path) -> None:
    made = HARD[name]
    header = c_header.render(made, about(made))
    program = compile_host(tmp_path, plus_plus=plus_plus, header=header)
    verdict, outputs, played = on_host(
        program, b"B", len(made.channels), moments(made), days(made)[:2]
    )
    assert (verdict, outputs) == (0, len(made.channels))
    wanted = [expected(made, moments(made)), *(expected_day(made, d) for d in days(made)[:2])]
    assert np.array_equal(played, np.concatenate(wanted))


def test_before_a_check_and_for_outputs_too_many_all_is_dark(host: Path) -> None:
    made = HARD["soft-start"]
    _, _, played = on_host(host, load_order(encode(made)), 3, moments(made))
    own = expected(made, moments(made))["outputs"][:, 0]
    assert np.array_equal(played["outputs"][:, 0], own)
    for key in ("count", "code", "relay"):
        assert not played["outputs"][key][:, 1:].any()
    _, _, played = on_host(host, load_order(b""), 3, moments(made))
    assert (played["status"] == 1).all()
    assert not played["outputs"]["relay"].any()


def test_a_second_outside_the_day_is_no_valid_clock(host: Path) -> None:
    made = HARD["follows-level-and-snaps"]
    late = [m for second in (86_400, 2**31, 2**32 - 1) for m in [type(moments(made)[0])(0, second)]]
    _, _, played = on_host(host, load_order(encode(made)), 2, late)
    assert (played["status"] == 1).all()
    assert (played["outputs"]["count"] == [0, 7]).all()
    assert (played["outputs"]["relay"] == [0, 1]).all()


def test_numbers_of_dates(host: Path) -> None:
    dates = [dt.date(2000, 1, 1) + dt.timedelta(days=day) for day in range(-36_524, 65_536)]
    orders = b"".join(b"N" + struct.pack("<I", d.year << 16 | d.month << 8 | d.day) for d in dates)
    found = np.frombuffer(run([host], stdin=orders), dtype="<i4")
    assert found.tolist() == [day_number(date) for date in dates]
