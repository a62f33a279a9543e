"""A ballast's curve from a sweep."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from photoperiod.drive.ballast import BallastCurve, DarkKind, ResponseKind
from photoperiod.readings.faults import Faults
from photoperiod.readings.sweep import Sweep, sweep_of, sweep_yaml
from tests.conftest import drawn
from tests.readings.bench import csv, readings_of, told

HEAD = "volts,ppfd_umol_m2_s"

#: A square-law ballast: 1 % up to 1 V, full from 10 V; REFERENCES calls it common practice, no source.
SQUARE = [(v / 2, 200 * max(v / 20, 0.1) ** 2) for v in range(1, 21)]


def swept(
    points: list[tuple[float, float]], head: str = HEAD
) -> tuple[Sweep | None, Faults, bytes]:
    rows = [f"{volts:.3f},{light:.4f}" for volts, light in points]
    faults = Faults()
    return (
        sweep_of(readings_of(*rows, head=head, use="sweep"), faults),
        faults,
        csv(*rows, head=head),
    )


def good(points: list[tuple[float, float]]) -> Sweep:
    found, faults, _ = swept(points)
    assert found is not None and not faults, faults
    return found


def test_a_square_law_by_hand() -> None:
    found = good(SQUARE)
    assert found.floor_volts == 1
    assert found.floor_light == pytest.approx(0.01)
    assert found.full_volts == 10
    assert found.dark_volts is None and found.noise is None and found.dead_zones == ()
    assert found.laws[0].kind is ResponseKind.SQUARE_LAW
    # the points are printed with four decimals, so the law fits to that
    assert found.laws[0].worst < 1e-6
    # by hand: linear from 1 % at 1 V to 100 % at 10 V is 1 + 99 × 4.5/9 = 50.5 % at 5.5 V, where the
    # square law gives 30.25 %
    linear = next(fit for fit in found.laws if fit.kind is ResponseKind.LINEAR)
    assert linear.worst == pytest.approx(0.505 - 0.3025, abs=1e-6)


@pytest.mark.parametrize(
    "kind", [ResponseKind.LINEAR, ResponseKind.SQUARE_LAW, ResponseKind.LOG_LAW]
)
def test_each_law_is_found_through_noise_and_rounding(kind: ResponseKind) -> None:
    truth = BallastCurve(kind=kind, floor_volts=1.2, full_volts=9.6, floor_light=0.02,
                         dark=DarkKind.RELAY)  # fmt: skip
    dice = random.Random(3)
    volts = [0.4 + 0.4 * step for step in range(25)] * 2
    light = truth.light_at(np.array(volts)) * 250
    found = good([(v, round(x + dice.gauss(0, 0.8))) for v, x in zip(volts, light, strict=True)])
    assert found.laws[0].kind is kind
    assert found.laws[0].rms < 0.02
    assert found.floor_volts == pytest.approx(1.2, abs=0.41)
    assert found.full_volts == pytest.approx(9.6, abs=0.41)
    # the noise is 0.8, and rounding adds 1/√12: together 0.85 of 250
    assert found.noise == pytest.approx(0.85 / 250, rel=0.35)
    curve = np.interp(volts, found.volts, found.light)
    assert np.abs(curve - light / 250).max() < 0.015


def test_a_plateau_at_full_and_one_at_the_floor_are_found() -> None:
    # common practice: full from 9 V on (reference guide: 1 V to 9 V), floor up to 2 V
    points = [(v / 2, min(max(10 + 90 * (v / 2 - 2) / 7, 10), 100)) for v in range(1, 21)]
    found = good(points)
    assert (found.floor_volts, found.full_volts) == (2, 9)
    assert found.floor_light == pytest.approx(0.1)


def test_volts_without_light_are_standby() -> None:
    found = good([(0.2, 0.0), (0.5, 0.0), *SQUARE[1:]])
    assert found.dark_volts == 0.5
    assert "dark: {kind: standby, below_volts: 0.5}" in sweep_yaml(found)


def test_a_dead_zone_is_named() -> None:
    points = [(1, 1.0), (2, 20), (3, 40), (4, 40), (5, 40), (6, 60), (8, 80), (10, 100)]
    assert good(points).dead_zones == ((3, 5),)


def test_small_dips_are_levelled_by_weight() -> None:
    # by hand: 40 and 39 twice are one level, (40 + 39 + 39) / 3
    found = good([(1, 1.0), (3, 20), (4, 40), (5, 39), (5, 39), (6, 60), (8, 80), (10, 100)])
    assert found.light[2:4] == pytest.approx((118 / 300,) * 2)


@given(st.lists(st.tuples(st.integers(1, 30), st.integers(95, 110)), min_size=4, max_size=40))
def test_the_curve_is_the_isotonic_regression_of_scipy(points: list[tuple[int, int]]) -> None:
    # light within a meter's noise of 2 %: 985 to 1000, so that dips are levelled and not refused
    readings = [(v / 3, 980.0 + (x - 90)) for v, x in points]
    found, _, _ = swept(readings)
    volts = sorted({round(v, 3) for v, _ in readings})
    if len(volts) < 4 or len({x for _, x in readings}) == 1:
        return
    assert found is not None
    by_volts = [[x for v, x in readings if round(v, 3) == each] for each in volts]
    means = [sum(each) / len(each) for each in by_volts]
    expected = isotonic_regression(means, weights=[len(each) for each in by_volts]).x
    inside = [i for i, v in enumerate(found.volts) if found.floor_volts < v < found.full_volts]
    assert [found.light[i] for i in inside] == pytest.approx(
        [expected[i] / expected[-1] for i in inside]
    )


def test_the_lines_to_paste_are_a_ballast_of_the_language() -> None:
    data = yaml.safe_load(sweep_yaml(good(SQUARE)))
    points = data["response"]["points"]
    assert points[0] == {"volts": 1, "light_percent": 1}
    assert points[-1] == {"volts": 10, "light_percent": 100}
    assert data["floor"] == points[0]
    assert data["full_volts"] == 10
    assert all(a["volts"] < b["volts"] for a, b in itertools.pairwise(points))


def test_two_ballasts_in_one_sweep_are_seen_by_their_light() -> None:
    other = [(v, min(0.8 * light + 30, 200)) for v, light in SQUARE]
    found, faults, raw = swept(SQUARE + other)
    assert found is None
    assert {each.code for each in faults} == {"PHO912"}
    assert "readings at 0.5 V differ by" in faults[0].message
    assert told(faults, raw)[0] == ("PHO912", 2, "2.0000")


@pytest.mark.parametrize("column", ["ballast", "channel"])
def test_two_names_in_one_sweep_are_seen(column: str) -> None:
    rows = [f"{v},{light},{'a' if v < 5 else 'b'}" for v, light in SQUARE]
    head = f"{HEAD},{column}"
    faults = Faults()
    assert sweep_of(readings_of(*rows, head=head, use="sweep"), faults) is None
    assert told(faults, csv(*rows, head=head)) == [("PHO912", 11, "b")]


def test_exchanged_rows_are_seen() -> None:
    points = [*SQUARE[:8], (SQUARE[8][0], SQUARE[13][1]), *SQUARE[9:]]
    found, faults, raw = swept(points)
    assert found is None
    assert told(faults, raw) == [("PHO912", 11, "50.0000"), ("PHO913", 10, "98.0000")]
    # by hand: (7.0² − 5.0²) / 10² = 24 % of full
    assert "at 5 V light has fallen by 24 % of full" in faults[0].message


def test_a_jump_is_named() -> None:
    points = [(1, 2.0), (2, 4), (3, 6), (4, 8), (5, 60), (6, 70), (8, 90), (10, 100)]
    found, faults, raw = swept(points)
    assert found is not None
    assert told(faults, raw) == [("PHO913", 6, "60.0000")]
    assert "by 52 % of full between 4 and 5 V" in faults[0].message


def test_no_law_has_a_jump() -> None:
    for steps in (4, 9, 18, 90):
        for kind in (ResponseKind.LINEAR, ResponseKind.SQUARE_LAW, ResponseKind.LOG_LAW):
            law = BallastCurve(kind=kind, floor_volts=1, full_volts=10, floor_light=0.01,
                               dark=DarkKind.RELAY)  # fmt: skip
            volts = np.linspace(1, 10, steps + 1)
            good(
                [
                    (float(v), 300 * float(x))
                    for v, x in zip(volts, law.light_at(volts), strict=True)
                ]
            )


@pytest.mark.parametrize(
    ("points", "code"),
    [
        ([(1, 2.0), (5, 50), (10, 100)], "PHO908"),
        ([(1, 5.0), (2, 5.0), (5, 5.0), (10, 5.0)], "PHO907"),
        ([(1, 0.0), (2, 0.0), (5, 0.0), (10, 0.0)], "PHO907"),
    ],
)
def test_what_tells_no_curve(points: list[tuple[float, float]], code: str) -> None:
    found, faults, _ = swept(points)
    assert found is None
    assert [each.code for each in faults] == [code]


@settings(max_examples=drawn(60))
@given(
    st.lists(st.tuples(st.integers(1, 100), st.floats(0.98, 1.02)), min_size=8, max_size=40),
    st.sampled_from([3.0, 20.0]),
    st.randoms(use_true_random=False),
)
def test_a_curve_rises_to_full_and_hangs_on_shares_alone(
    points: list[tuple[int, float]], scale: float, dice: random.Random
) -> None:
    def of(factor: float) -> Sweep | None:
        rows = [
            (v / 10, round(factor * noise * 200 * max(v / 100, 0.1) ** 2, 6)) for v, noise in points
        ]
        dice.shuffle(rows)
        return swept(rows)[0]

    once, again = of(1.0), of(scale)
    assert (once is None) == (again is None)
    if once is None or again is None:
        return
    assert all(a <= b + 1e-12 for a, b in itertools.pairwise(once.light))
    assert 0 < once.light[0] <= once.light[-1] == 1
    assert once.floor_volts < once.full_volts
    # order and unit of the light have no say, but for the last digit, which is noise of the meter
    assert again.volts == pytest.approx(once.volts)
    assert again.raw == pytest.approx(once.raw, rel=2e-4)
