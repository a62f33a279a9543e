"""Whether board and table fit each other."""

from __future__ import annotations

from typing import Any

import pytest

from photoperiod.board.table_check import clock_of
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import read_table
from tests.board.bench import table
from tests.board.test_board_file import BOTH, GOOD, read, told


@pytest.mark.parametrize(
    ("told_here", "places"),
    [
        ("bits: 12, full_scale_volts: 10.2", []),
        ("bits: 14", [("PHO708", 7, 66)]),
        ("full_scale_volts: 5", [("PHO708", 7, 78)]),
        ("bits: 14, full_scale_volts: 5", [("PHO708", 7, 66), ("PHO708", 7, 88)]),
    ],
)
def test_a_table_for_another_converter(told_here: str, places: list[tuple[str, int, int]]) -> None:
    text = GOOD.replace("channel: 0, gain: 2.5", f"channel: 0, {told_here}")
    assert told(read(text, table((0, 80), channels=("blue", "white")))) == places


def test_a_table_must_fit_the_board() -> None:
    assert told(read(GOOD, table((0, 80)))) == [("PHO702", 9, 3)]
    three = table((0, 80), channels=("blue", "white", "violet"))
    assert told(read(GOOD, three)) == [("PHO701", 5, 1)]
    local = table((0, 80), channels=("blue", "white"), clock="civil")
    assert [code for code, *_ in told(read(GOOD, local))] == ["PHO706"]
    zoned = read(GOOD + "time_zone: Atlantic/Azores\n", local)
    assert told(zoned) == [] and zoned.config is not None
    clock = clock_of(zoned.config, read_table("t", local))
    assert (clock.kind, clock.zone_name) == ("civil", "Atlantic/Azores")


def test_a_running_player_gets_an_error() -> None:
    board = read(GOOD).config
    assert board is not None
    with pytest.raises(OutsideWorldError, match="no channel 'white'") as caught:
        clock_of(board, read_table("t", table((0, 80))))
    assert caught.value.code == "PHO506"


def test_a_channel_without_its_relay_is_a_warning() -> None:
    text = GOOD.replace("{kind: gpio, line: relay-white}", "{kind: none}")
    found = read(text, BOTH)
    assert told(found) == [("PHO705", 11, 12)]
    assert found.config is not None
    told_over = text.replace("{kind: pwm, chip: 0, channel: 1, period_ns: 1000000}", "{kind: mqtt}")
    assert told(read(told_over, BOTH)) == []  # whoever listens gets the relay too


def test_a_standby_ballast_without_its_relay_is_told_otherwise() -> None:
    def standby(data: dict[str, Any]) -> None:
        data["channels"]["blue"]["ballast"] |= {
            "dark": "standby",
            "standby_below_volts": 0.5,
            "keeps_mains": False,
        }

    text = GOOD.replace("{kind: gpio, line: relay-white}", "{kind: none}")
    found = read(text, table((0, 80), channels=("blue", "white"), change=standby))
    assert told(found) == [("PHO705", 11, 12)]
    (finding,) = found.report.sorted()
    assert finding.message.endswith(
        "in the dark, and there is none: an output that fails open lights the lamp at full"
    )
