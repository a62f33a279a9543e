"""What a player works with is given once."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace
from pathlib import Path

import pytest

from photoperiod.board.surroundings import Surroundings
from tests.board.bench import STEADY, Bench, FakeBroker


def test_nobody_changes_them_later(tmp_path: Path) -> None:
    """A player that connects to its broker gets surroundings of its own."""
    bench = Bench(tmp_path, STEADY)
    config = bench.board_file().config
    assert config is not None
    around = bench.surroundings(config)
    with pytest.raises(FrozenInstanceError):
        around.broker = FakeBroker()  # type: ignore[misc]
    other = replace(around, broker=FakeBroker())
    assert around.broker is None and other.system is around.system


def test_only_the_hook_may_be_left_out() -> None:
    with pytest.raises(TypeError, match="config"):
        Surroundings()  # type: ignore[call-arg]
    assert [one.name for one in fields(Surroundings) if one.default is None] == ["hook"]
