"""Converter codes and volts: arithmetic, calibration, limits."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.converter import Converter
from tests.conftest import drawn

#: The top of the control interface: IEC 60929 Annex E, as quoted in trade articles [V].
FULL_VOLTS = 10.0

#: Volts printed with three or four decimals.
PRINTED_MILLIVOLT = 0.0005
PRINTED_TENTH_MILLIVOLT = 0.00005
#: Volts computed in two ways in double precision.
ROUNDING_TOLERANCE = 1e-9

quick = settings(max_examples=drawn(200))

NOMINAL = Converter.nominal(12, 10.0, 10.0)
#: Worked by hand: 9.486 − 1.062 = 8.424 V in 3686 − 410 = 3276 codes.
CALIBRATED = Converter.two_point(12, (410, 1.062), (3686, 9.486), 10.0)


def volts(converter: Converter, *codes: int) -> list[float]:
    return converter.volts(np.array(codes, dtype=np.int64)).tolist()


def codes(converter: Converter, *wanted: float) -> list[int]:
    return converter.codes(np.array(wanted)).tolist()


def nearest(converter: Converter, *wanted: float) -> list[int]:
    return converter.nearest_codes(np.array(wanted)).tolist()


@st.composite
def converters(draw: st.DrawFn) -> Converter:
    bits = draw(st.integers(6, 16))
    most = draw(st.floats(0.5, 10.0))
    if draw(st.booleans()):
        return Converter.nominal(bits, draw(st.floats(0.5, 24.0)), most)
    low = draw(st.integers(0, 2**bits - 2))
    high = draw(st.integers(low + 1, 2**bits - 1))
    low_volts = draw(st.floats(0.0, 10.0))
    high_volts = low_volts + draw(st.floats(0.001, 14.0))
    made = Converter.two_point(bits, (low, low_volts), (high, high_volts), most)
    if made.offset_volts > most:  # refused when a file is read
        made = Converter.two_point(bits, (0, 0.0), (high, high_volts), most)
    return made


# Nominal ------------------------------------------------------------------------------------------


def test_a_12_bit_code_is_worth_2_441_millivolts() -> None:
    # Arithmetic: 10 V / 4096; V = Vref × code / 4096 is the usual formula of a converter.
    assert volts(NOMINAL, 1)[0] * 1000 == pytest.approx(2.441, abs=PRINTED_MILLIVOLT)
    assert volts(NOMINAL, 0, 1024, 2048, 4095) == pytest.approx(
        [0.0, 2.5, 5.0, 9.9976], abs=PRINTED_TENTH_MILLIVOLT
    )


@pytest.mark.parametrize(
    ("bits", "millivolts"),
    [(8, 39.06), (10, 9.766), (12, 2.441), (15, 0.305)],  # arithmetic: 10 V / 2^bits
)
def test_what_a_code_is_worth(bits: int, millivolts: float) -> None:
    converter = Converter.nominal(bits, 10.0, 10.0)
    assert volts(converter, 1)[0] * 1000 == pytest.approx(millivolts, abs=0.005)
    assert converter.last_code == 2**bits - 1


def test_ten_volts_is_the_last_code_and_never_the_one_that_wraps_to_zero() -> None:
    # round(10 / 10 × 4096) = 4096 would be 0 in 12 bits
    assert NOMINAL.last_code == NOMINAL.full_code == 4095
    assert codes(NOMINAL, 10.0, 10.5, 1e6) == [4095, 4095, 4095]
    assert nearest(NOMINAL, 9.9976, 9.999, 10.0) == [4095, 4095, 4095]


def test_less_than_nothing_is_code_zero() -> None:
    assert codes(NOMINAL, 0.0, -0.001, -5.0) == [0, 0, 0]


def test_halves_go_up() -> None:
    step = 10.0 / 4096
    assert codes(NOMINAL, 99.5 * step, 100.5 * step) == [100, 101]
    assert codes(NOMINAL, 99.4999 * step, 100.4999 * step) == [99, 100]


def test_a_reference_above_ten_volts_is_cut_at_ten() -> None:
    # A 12-bit converter on 10.2 V (a 5.1 V supply doubled): 10 V / (10.2 / 4096) = 4015.69
    converter = Converter.nominal(12, 10.2, 10.0)
    assert converter.full_code == 4015
    assert codes(converter, 10.0, 10.2, 5.1) == [4015, 4015, 2048]


def test_the_port_may_end_below_ten_volts() -> None:
    converter = Converter.nominal(12, 10.0, 5.0)
    assert converter.full_code == 2048
    assert codes(converter, 4.99, 5.0, 9.0) == [2044, 2048, 2048]


# Calibrated at two points -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "code"),
    [(1.000, 386), (5.000, 1941), (9.000, 3497), (10.000, 3886)],  # arithmetic, worked by hand
)
def test_a_calibration_worked_by_hand(wanted: float, code: int) -> None:
    assert nearest(CALIBRATED, wanted) == [code]


def test_the_calibration_line_is_that_of_the_worked_example() -> None:
    # g = 2.57143 mV/code, a = 7.71 mV
    assert CALIBRATED.volts_per_code * 1000 == pytest.approx(2.57143, abs=5e-6)
    assert CALIBRATED.offset_volts * 1000 == pytest.approx(7.71, abs=0.005)
    assert volts(CALIBRATED, 410, 3686) == pytest.approx([1.062, 9.486], abs=ROUNDING_TOLERANCE)


def test_what_leaves_a_calibrated_port_is_at_most_ten_volts() -> None:
    # Code 3886 is the nearest to 10 V, but it gives more: a + 3886 g = 10.0003 V.
    line = Fraction("1.062") + (3886 - 410) * (Fraction("9.486") - Fraction("1.062")) / (3686 - 410)
    assert line > 10
    assert CALIBRATED.full_code == 3885
    assert codes(CALIBRATED, 9.0, 10.0, 10.5) == [3497, 3885, 3885]
    assert volts(CALIBRATED, 3885)[0] <= FULL_VOLTS


def test_a_point_measured_at_exactly_ten_volts_may_leave() -> None:
    # What was measured as 10.0 V is not above 10.0 V, whatever rounding makes of the line.
    for low, high in itertools.product(
        ((410, 1.062), (100, 0.3), (333, 0.7)), ((3333, 10.0), (3700, 10.0), (4000, 10.0))
    ):
        assert Converter.two_point(12, low, high, 10.0).full_code == high[0]


def test_a_negative_offset_sticks_at_zero() -> None:
    # By hand: 9.75 V in 3900 codes are 2.5 mV a code, 0 V at code 100. An output without a negative
    # supply can't go below 0 V.
    converter = Converter.two_point(12, (100, 0.0), (4000, 9.75), 10.0)
    assert volts(converter, 0, 50, 100, 200) == pytest.approx([0.0, 0.0, 0.0, 0.25])
    assert nearest(converter, 0.0) == [100]


# Any converter ------------------------------------------------------------------------------------


@quick
@given(converter=converters(), wanted=st.lists(st.floats(-1, 25), min_size=1, max_size=20))
def test_codes_stay_in_range_and_volts_below_the_top(
    converter: Converter, wanted: list[float]
) -> None:
    most = min(FULL_VOLTS, converter.most_volts)
    assert 0 <= converter.full_code <= converter.last_code == 2**converter.bits - 1
    for code in codes(converter, *wanted):
        assert 0 <= code <= converter.full_code
    assert all(0 <= v <= most for v in converter.volts(converter.codes(np.array(wanted))))
    assert all(0 <= code <= converter.last_code for code in nearest(converter, *wanted))


@quick
@given(converter=converters())
def test_full_is_the_largest_code_that_stays_below_the_top(converter: Converter) -> None:
    most = min(FULL_VOLTS, converter.most_volts)
    if converter.full_code < converter.last_code:
        above = converter.offset_volts + (converter.full_code + 1) * converter.volts_per_code
        assert above > most - ROUNDING_TOLERANCE


@quick
@given(converter=converters(), wanted=st.lists(st.floats(0, 10.5), min_size=2, max_size=20))
def test_more_volts_never_get_a_smaller_code(converter: Converter, wanted: list[float]) -> None:
    found = codes(converter, *sorted(wanted))
    assert found == sorted(found)
    line = volts(converter, *range(0, converter.full_code + 1, max(converter.full_code // 50, 1)))
    assert all(a <= b for a, b in itertools.pairwise(line))


@quick
@given(converter=converters(), wanted=st.floats(0, 10.0))
def test_the_code_is_the_nearest_permitted(converter: Converter, wanted: float) -> None:
    (code,) = codes(converter, wanted)

    def distance(candidate: int) -> float:
        return abs(converter.offset_volts + candidate * converter.volts_per_code - wanted)

    exact = (wanted - converter.offset_volts) / converter.volts_per_code
    around = [math.floor(exact) + n for n in (-1, 0, 1, 2)] + [0, converter.full_code]
    permitted = [c for c in around if 0 <= c <= converter.full_code]
    slack = 1e-8 * converter.volts_per_code + ROUNDING_TOLERANCE
    assert distance(code) <= min(distance(c) for c in permitted) + slack


# Measured at several codes ------------------------------------------------------------------------

#: Invented: a stage that bends. By hand: 1 V in 400 codes, 4 V in 1600, 4.4 V in 1600.
BENT = Converter.measured(12, ((400, 1.0), (2000, 5.0), (3600, 9.4)), 10.0)


def test_between_points_the_volts_are_straight_lines_by_hand() -> None:
    assert volts(BENT, 400, 1200, 2000, 2800, 3600) == pytest.approx([1, 3, 5, 7.2, 9.4])


def test_beyond_the_points_the_outer_lines_go_on() -> None:
    # by hand: 2.5 mV a code below, so 0 V at 0; 2.75 mV a code above, so 10 V at 3600 + 0.6/0.00275
    assert volts(BENT, 0) == pytest.approx([0])
    assert BENT.full_code == 3600 + math.floor(0.6 / 0.00275)
    assert volts(BENT, BENT.full_code)[0] <= FULL_VOLTS


def test_codes_of_volts_go_the_same_way_back() -> None:
    assert nearest(BENT, 1.0, 3.0, 5.0, 7.2, 9.4) == [400, 1200, 2000, 2800, 3600]
    assert codes(BENT, 12.0) == [BENT.full_code]


@quick
@given(st.lists(st.tuples(st.integers(1, 600), st.floats(0.01, 2.0)), min_size=2, max_size=6))
def test_measured_points_are_kept_and_numpy_agrees_between_them(
    steps: list[tuple[int, float]],
) -> None:
    at = list(itertools.accumulate(step for step, _ in steps))
    measured = list(itertools.accumulate((rise for _, rise in steps), initial=0.0))[1:]
    made = Converter.measured(12, list(zip(at, measured, strict=True)), 10.0)
    inside = np.arange(at[0], at[-1] + 1)
    expected = np.interp(inside, at, measured)
    np.testing.assert_allclose(made.volts(inside), expected, rtol=0, atol=ROUNDING_TOLERANCE)
    everywhere = made.volts(np.arange(made.last_code + 1))
    assert (np.diff(everywhere) >= 0).all()
    assert everywhere[made.full_code] <= FULL_VOLTS + ROUNDING_TOLERANCE or made.full_code == 0
    if made.full_code < made.last_code:
        assert everywhere[made.full_code + 1] > FULL_VOLTS - ROUNDING_TOLERANCE


def test_two_measured_points_are_a_two_point_calibration() -> None:
    both = Converter.measured(12, ((410, 1.062), (3686, 9.486)), 10.0)
    every = np.arange(4096)
    np.testing.assert_allclose(
        both.volts(every), CALIBRATED.volts(every), rtol=0, atol=ROUNDING_TOLERANCE
    )
    # by hand: (10 − 0.0077143) / 0.00257143 = 3885.9, and the next code gives more than 10 V
    assert both.full_code == CALIBRATED.full_code == 3885
