"""A table for another converter is refused unless the board file says that it is right."""

from __future__ import annotations

from typing import Any

import pytest

from photoperiod.board.board_file import read_board
from photoperiod.board.converter_change import check_converters
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import read_table
from tests.board.bench import BOARD, STEADY, finer_table, table

IIO = '{kind: iio, device: "iio:device0", channel: 0}'
BROKER = "broker: {host: h, topic: bench}\n"


def scaled(volts: float) -> bytes:
    """Return a table for a converter of 12 bits with other volts at the top."""

    def scale(data: dict[str, Any]) -> None:
        data["controller"]["converter"] |= {"volts_per_code": volts / 2**12}

    return table((0, 80), change=scale)


def why_refused(output: str, raw: bytes) -> str:
    config = read_board("board.yaml", (BOARD.replace(IIO, output) + BROKER).encode()).config
    assert config is not None
    try:
        check_converters(config, read_table("a", STEADY), read_table("b", raw))
    except OutsideWorldError as error:
        assert error.code == "PHO507"
        return str(error)
    return ""


@pytest.mark.parametrize(
    "text",
    [
        IIO,
        "{kind: stdout}",
        "{kind: mqtt, topic: t}",
        "{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}",
    ],
)
def test_each_kind_of_output_is_checked(text: str) -> None:
    assert why_refused(text, STEADY) == ""
    assert why_refused(text, scaled(10.25)) == ""  # a calibration
    assert "5.00 V at its top code, not 10.00 V" in why_refused(text, scaled(5.0))
    is_refused = "14 bits, not 12" in why_refused(text, finer_table())
    assert is_refused is ("pwm" not in text)  # a duty is a share, whatever the bits


def test_the_board_file_settles_it() -> None:
    told = IIO.replace("channel: 0", "channel: 0, bits: 14, full_scale_volts: 10")
    assert why_refused(told, finer_table()) == ""
    half = IIO.replace("channel: 0", "channel: 0, full_scale_volts: 5")
    assert why_refused(half, scaled(5.0)) == ""
    assert "write `bits` and `full_scale_volts`" in why_refused(IIO, finer_table())
