"""Converter codes as one line in whole numbers: the same code for every count."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.drive.converter import Converter, ConverterKind
from photoperiod.formats.code_line import MOST_INT32, CodeLine, code_line


@given(
    st.integers(1, 16), st.floats(4.0, 12.0), st.floats(-0.5, 0.5), st.sampled_from([50, 100, 1000])
)
def test_a_line_of_codes_gives_every_code_and_fits_32_bits(
    bits: int, full_scale: float, offset: float, steps: int
) -> None:
    converter = Converter(
        kind=ConverterKind.TWO_POINT,
        bits=bits,
        offset_volts=offset,
        volts_per_code=full_scale / 2**bits,
    )
    codes = converter.codes(np.arange(steps + 1) * (10.0 / steps)).tolist()
    line = code_line(codes, converter.full_code, 10.0 / steps / converter.volts_per_code)
    if isinstance(line, tuple):
        assert list(line) == codes
        return
    assert [line.code(count, converter.full_code) for count in range(steps + 1)] == codes
    assert 0 <= line.factor <= MOST_INT32 and abs(line.addend) <= MOST_INT32


def test_usual_converters_need_no_list() -> None:
    for bits, steps, is_narrow in (
        (8, 100, True), (10, 1000, True), (12, 100, True), (12, 10_000, False), (16, 1000, False),
        (16, 10_000, False),
    ):  # fmt: skip
        converter = Converter.nominal(bits, 10.0, 10.0)
        codes = converter.codes(np.arange(steps + 1) * (10.0 / steps)).tolist()
        line = code_line(codes, converter.full_code, 2**bits / steps)
        assert isinstance(line, CodeLine), (bits, steps)
        assert (line.most(steps) <= MOST_INT32) is is_narrow
    # one that no line gives is listed
    assert code_line([0, 5, 6, 40, 41], 41, 10.0) == (0, 5, 6, 40, 41)


def test_a_line_by_hand() -> None:
    """12 bits, 10 V, levels of 1 %: 40.96 codes a count. 1 % is 41, 50 % is 2048; 100 % is cut."""
    line = CodeLine(41_943, 495, 10)
    assert [line.code(count, 4095) for count in (0, 1, 50, 100)] == [0, 41, 2048, 4095]
    assert line.most(100) == 4_194_795  # 100 · 41,943 + 495


def test_a_code_below_zero_is_zero() -> None:
    line = CodeLine(2, -5, 0)
    assert [line.code(count, 10) for count in (0, 2, 3, 9)] == [0, 0, 1, 10]
    assert line.most(9) == 18, "an addend below zero makes no number larger"
