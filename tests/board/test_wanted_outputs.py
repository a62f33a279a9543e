"""What lamps should get: the table, the safe state, light by hand, and soft starts over them."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.board.override import Override, as_json, override_file
from tests.board.bench import FLOOR, HOUR, MIDNIGHT, STEADY, Bench, code, soft, table


def test_past_its_dates_a_table_goes_on_with_an_alarm(tmp_path: Path) -> None:
    dated = table((0, 80), dates=("2027-03-01", "2027-03-02"))
    bench = Bench(tmp_path, dated, unix=MIDNIGHT + 86_400 - 100)
    bench.light(code(80))
    assert bench.watch([99, 111]) == [(code(80), True)] * 2
    assert bench.events() == ["start", "expired", "stop"]


def test_before_its_dates_the_first_table_is_played_with_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), dates=("2027-03-03", "2027-03-04")))
    bench.light(code(80))
    assert bench.watch([1]) == [(code(80), True)]
    assert bench.events() == ["start", "early", "stop"]


def test_after_a_hold_lamps_rise_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(65, bench.store.release)
    assert bench.watch([24, 64, 71]) == [(code(80), True), (0, False), (code(FLOOR), True)]


@pytest.mark.parametrize("is_held", [False, True])
def test_the_safe_state_is_that_of_the_table_but_for_a_hold(tmp_path: Path, is_held: bool) -> None:
    """Whoever holds the lamps wants none, also where the safe state gives light."""
    bench = Bench(tmp_path, table((0, 80), safe=(20, "on")))
    player = bench.begin()
    (output,) = player.wanted.safe_state(player.image, player.channels, is_held=is_held)
    assert (output.count, output.relay) == ((0, False) if is_held else (20, True))


def test_a_soft_start_begins_anew_after_the_safe_state(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    player = bench.begin()

    def count(boot_s: float, *, is_held: bool = False) -> int:
        now_s = int(bench.system.unix + boot_s - bench.system.boot)
        (output,) = player.wanted.at(player.loaded, player.channels, now_s, boot_s, is_held=is_held)
        return output.count

    assert [count(100.0 + after_s) for after_s in (0, 600, 1800)] == [FLOOR, soft(600), 80]
    assert count(2000.0, is_held=True) == 0 and player.wanted.is_safe
    assert [count(2010.0 + after_s) for after_s in (0, 600)] == [FLOOR, soft(600)]
    assert not player.wanted.is_safe


def test_light_by_hand_rises_softly_too(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), (13 * HOUR, 80)))
    bench.store.make()
    override = Override(
        boot_id="this start", from_boot_s=100.0, from_unix_s=bench.system.unix, minutes=60,
        light_percent={"blue": 30.0},
    )  # fmt: skip
    override_file(bench.store.folder).write_bytes(as_json(override))
    first, second, last = bench.watch([1, 300, 2000])
    assert first == (code(FLOOR), True) and second[0] <= code(soft(300))
    assert second[0] < last[0] < code(80)
