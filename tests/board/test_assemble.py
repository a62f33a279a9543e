"""How a player begins: its first table and its devices."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from tests.board.bench import (
    BOARD,
    IIO,
    STEADY,
    Bench,
)


def test_a_device_that_is_another_ends_the_player(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, BOARD.replace("channel: 0}", "channel: 0, gain: 2.5}"))
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "0.25"
    with pytest.raises(OutsideWorldError, match="by the table's converter") as caught:
        bench.begin()
    assert caught.value.code == "PHO507"
    assert bench.kernel.writes == []
