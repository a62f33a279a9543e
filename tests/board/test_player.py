"""What a player does through a day and through a hold, a stop and a restart, in simulated time."""

from __future__ import annotations

import itertools
import shutil
import signal
import time
from pathlib import Path

import pytest

from photoperiod.board.state_store import StateStore
from photoperiod.formats.table import read_table
from tests.board.bench import (
    BOARD,
    DAY,
    FLOOR,
    HOUR,
    MIDNIGHT,
    STEADY,
    Bench,
    code,
    soft,
    table,
)
from tests.conftest import Run
from tests.player.tables import play_day


def test_a_day_is_what_the_player_says_and_compare_agrees(tmp_path: Path, run: Run) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT, stop_s=86_400)
    held = read_table("t", DAY)
    counts, relays = play_day(held.image, 0)
    codes = held.paths["blue"].codes
    wrong = []

    def look(minute: int) -> None:
        second = minute * 60
        wanted = int(codes[counts[0, second]]), bool(relays[0, second])
        if (bench.code, bench.relay) != wanted:
            wrong.append((minute, wanted, bench.code, bench.relay))

    for minute in range(1440):
        bench.system.at(minute * 60 + 1, lambda minute=minute: look(minute))
    began = time.process_time()
    assert bench.run() == 0
    assert time.process_time() - began < 3.0
    assert wrong == []
    assert bench.events() == ["start", "stop"]
    (log,) = [p for p in (tmp_path / "log").iterdir() if "03-02" in p.name]
    exit_code, out, err = run("compare", bench.table, log)
    assert exit_code == 0, out + err
    assert "start" in out


def test_a_player_writes_changes_only_and_wakes_at_whole_seconds(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 12 * HOUR + 0.4, stop_s=HOUR)
    bench.light(code(80))
    bench.run()
    raws = [text for name, text in bench.kernel.writes if name.endswith("_raw")]
    assert raws == [str(code(80)), "0"]  # the beginning and the safe state of the end
    assert bench.system.waits[0] == pytest.approx(9.6, abs=1e-6)
    assert bench.system.waits[1] == pytest.approx(10, abs=1e-6)


def test_every_second_is_a_step_where_outputs_move_every_second(tmp_path: Path) -> None:
    ramp = table((0, 0), (43_200, 100), every_seconds=1)
    bench = Bench(tmp_path, ramp, unix=MIDNIGHT + 6 * HOUR, stop_s=60)
    bench.run()
    assert set(bench.system.waits) == {1.0}


def test_a_machine_that_slept_wakes_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 9 * HOUR)
    bench.light(code(10))
    bench.system.at(20, lambda: bench.system.pass_s(3 * HOUR))
    seen = bench.watch([10, 3 * HOUR + 40])
    assert seen[0] == (code(10), True)
    assert seen[1][0] < code(13) and seen[1][1]
    assert "clock-step" not in bench.events()


def test_a_hold_keeps_the_lamps_off_through_restart_and_reload(tmp_path: Path) -> None:
    # The safe state gives light here; whoever holds the lamps wants none.
    lit = table((0, 80), safe=(20, "on"))
    bench = Bench(tmp_path, lit)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(45, lambda: bench.put_table(table((0, 70), safe=(20, "on")), MIDNIGHT))
    seen = bench.watch([24, 31, 80])
    assert seen[0] == (code(80), True)
    assert seen[1:] == [(0, False), (0, False)]  # and 0 V, in case that the relay is welded
    assert bench.relay is False  # after the stop too
    again = Bench(tmp_path, lit, unix=bench.system.unix + 60, boot=20.0, boot_id="another start")
    again.system.at(100, again.store.release)
    seen = again.watch([1, 99, 111, 711])
    assert again.said[0] == "held: the lamps are off, until `photoperiod release`"
    assert [relay for _, relay in seen] == [False, False, True, True]
    assert seen[2][0] == code(FLOOR) and seen[3][0] == code(soft(600))
    assert again.events()[-4:] == ["start", "hold", "release", "stop"]


def test_a_hold_outlives_its_folder(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.store.hold("test")
    bench.system.at(20, lambda: (tmp_path / "state").rename(tmp_path / "gone"))
    assert bench.watch([10, 60]) == [(0, False), (0, False)]


def test_a_stop_sets_the_safe_state(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), safe=(20, "on")))
    bench.light(code(80))
    bench.system.at(5, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert (bench.code, bench.relay) == (code(20), True)
    assert bench.events() == ["start", "stop"]
    interrupted = Bench(tmp_path, STEADY)
    interrupted.system.at(5, lambda: signal.SIGINT)
    assert interrupted.run() == 130
    assert interrupted.relay is False


def test_a_card_that_dies_costs_no_light(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """State folder and log are read-only from the start: it plays by the clock, opens relays, can be held."""
    (tmp_path / "card").write_text("")
    text = BOARD.replace("folder: state", "folder: card/state").replace("log}", "card/log}")
    bench = Bench(tmp_path, DAY, text, unix=MIDNIGHT + 20 * HOUR, stop_s=3 * HOUR)
    bench.light(code(80))
    store = StateStore(tmp_path / "card" / "state", runtime=tmp_path / "run")
    bench.system.at(5 * 60, lambda: store.hold("test"))
    bench.system.at(10 * 60, store.release)
    seen = bench.watch([299, 360, 700, HOUR + 60])
    assert [relay for _, relay in seen] == [True, False, True, False]
    for what in ("the state folder can't be written", "the log can't be written"):
        assert any(said.startswith(f"alarm: {what}") for said in bench.said)


def test_a_state_folder_that_is_removed_is_made_again(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=1300)
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(45, lambda: shutil.rmtree(tmp_path / "state"))
    bench.system.at(1290, lambda: held.append(bench.store.hold_file.exists()))
    held: list[bool] = []
    assert bench.watch([60, 1200]) == [(0, False)] * 2
    assert held == [True]
    last = bench.store.read_state()
    assert last is not None and last.boot_s == bench.system.boot


def test_a_service_is_ready_before_the_clock_is_trusted(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, synchronised=False, stop_s=60)
    bench.run()
    states = [state for _, state in bench.system.service]
    assert states[:2] == ["READY=1", "WATCHDOG=1"] and states.count("READY=1") == 1
    times = [at_s for at_s, _ in bench.system.service]
    assert times[0] == 0 and max(b - a for a, b in itertools.pairwise(times)) <= 10
    assert "resumed" not in bench.events()
