"""The words in logs and at brokers are those of docs/board.md; whoever reads logs relies on them."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.board.events import SAVED_AT_ONCE, Event, PlayerState
from photoperiod.board.state_store import RememberedOutput
from tests.board.bench import STEADY, Bench, code
from tests.conftest import ROOT

PAGE = (ROOT / "docs" / "board.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("word", [*Event, *PlayerState])
def test_every_event_and_state_is_documented(word: str) -> None:
    assert f"`{word}`" in PAGE


#: What a player that is killed must know; a list of its own, so that none is lost.
AT_ONCE = [Event.SAFE, Event.RESUMED, Event.HOLD, Event.RELEASE, Event.CLOCK_STEP]


def test_nothing_else_wears_the_card() -> None:
    assert sorted(SAVED_AT_ONCE) == sorted(AT_ONCE)


@pytest.mark.parametrize("event", AT_ONCE)
def test_these_events_are_saved_at_once(tmp_path: Path, event: Event) -> None:
    """Each within one step, though the state is otherwise saved once a minute."""
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    if event is Event.RESUMED:
        bench.system.synchronised = False
    if event is Event.RELEASE:
        bench.store.hold("test")
    player = bench.begin()
    player.step()
    before = bench.store.read_state()
    bench.system.pass_s(10)
    if event is Event.SAFE:
        bench.system.unix = 0.0
    elif event is Event.RESUMED:
        bench.system.synchronised = True
    elif event is Event.HOLD:
        bench.store.hold("test")
    elif event is Event.CLOCK_STEP:
        bench.system.unix -= 3600
    else:
        bench.store.release()
    player.step()
    state = bench.store.read_state()
    assert state is not None and state != before
    if event is Event.CLOCK_STEP:
        assert state.unix_s == bench.system.unix
        return
    lit = event in (Event.RESUMED, Event.RELEASE)
    assert state.is_trusted is (event is not Event.SAFE)
    assert state.outputs["blue"] == RememberedOutput(code(10) if lit else 0, lit)
