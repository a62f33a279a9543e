"""Newer tables: taken when they are whole and fit the board, refused as a whole otherwise."""

from __future__ import annotations

import errno
import os
import shutil
import signal
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board import disk
from tests.board.bench import (
    BOARD,
    MIDNIGHT,
    PWM_AND_BROKER,
    STEADY,
    Bench,
    FakeBroker,
    code,
    finer_table,
    table,
)
from tests.board.fake_kernel import IIO

BROKER = "broker: {host: h, topic: bench, table_topic: t}\nchannels:\n"


def test_a_new_table_is_taken_up_without_a_gap(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.put_table(table((0, 70)), MIDNIGHT))
    assert bench.watch([24, 51]) == [(code(80), True), (code(70), True)]
    assert "0" not in [t for n, t in bench.kernel.writes if n.endswith("_raw")][:-1]
    assert bench.events() == ["start", "reload", "stop"]
    assert bench.store.good_table.read_bytes() == table((0, 70))


def test_a_brighter_table_comes_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 40)))
    bench.light(code(40))
    bench.system.at(25, lambda: bench.put_table(STEADY, MIDNIGHT))
    seen = bench.watch([50, 341])
    assert seen[0][0] < code(43)
    assert code(50) < seen[1][0] < code(60)


def test_a_table_that_is_just_being_copied_is_not_read(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), every_seconds=1), stop_s=30)
    bench.light(code(80))
    raw = table((0, 70), every_seconds=1)
    for second in range(1, 20):
        size = len(raw) * second // 20
        bench.system.at(
            second - 0.5,
            lambda size=size, second=second: bench.put_table(raw[:size], MIDNIGHT + second),
        )
    bench.system.at(19.7, lambda: bench.put_table(raw, MIDNIGHT + 30))
    assert bench.watch([19, 22.5]) == [(code(80), True), (code(70), True)]
    assert bench.events() == ["start", "reload", "stop"]


def broken(raw: bytes) -> dict[str, bytes]:
    return {
        "empty": b"",
        "cut off": raw[: len(raw) // 2],
        "edited": raw.replace(b'"count": 70', b'"count": 99'),
        "another version": table((0, 70), change=lambda data: data.update(version=2)),
        "for other channels": table((0, 70), channels=("blue", "white")),
        "of no zone": table((0, 70), clock="standard"),
    }


@pytest.mark.parametrize("how", list(broken(b"")))
def test_a_table_that_cannot_be_played_is_refused(tmp_path: Path, how: str) -> None:
    raw = table((0, 70))
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.put_table(broken(raw)[how], MIDNIGHT))
    bench.system.at(61, lambda: bench.put_table(raw, MIDNIGHT + 99))
    assert bench.watch([60, 91]) == [(code(80), True), (code(70), True)]
    assert bench.events() == ["start", "refused", "reload", "stop"]
    alarm = next(text for text in bench.said if text.startswith("alarm: PHO50"))
    assert "the last good table goes on" in alarm
    assert any(text.startswith("alarm over: PHO50") for text in bench.said)


def test_a_table_for_another_converter_is_refused(tmp_path: Path) -> None:
    text = BOARD.replace("channel: 0}", "channel: 0, gain: 2.44140625}")
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "1.0"  # 12 bits of 4.096 V
    bench.light(code(80))
    bench.system.at(25, lambda: bench.put_table(finer_table(), MIDNIGHT))
    assert bench.watch([60]) == [(code(80), True)]
    assert any("by the table's converter" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_a_table_that_is_gone_goes_on(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.table.rename(tmp_path / "away"))
    bench.system.at(61, lambda: (tmp_path / "away").rename(bench.table))
    assert bench.watch([60, 91]) == [(code(80), True), (code(80), True)]
    assert bench.events() == ["start", "refused", "stop"]
    assert any("is not there" in text for text in bench.said if text.startswith("alarm over"))


def test_sighup_reads_the_table_at_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(20.5, lambda: bench.put_table(table((0, 70)), MIDNIGHT))
    bench.system.at(20.6, lambda: signal.SIGHUP)
    assert bench.watch([20.7]) == [(code(70), True)]


def test_a_handed_out_table_that_can_not_be_written_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A finer converter must not be reckoned with while the old table plays."""
    blinking = [
        (s, 80 - s // 60 % 2) for s in range(0, 86_400, 60)
    ]  # so that it is set each minute
    bench = Bench(tmp_path, table(*blinking, between="hold"), PWM_AND_BROKER, stop_s=120)
    bench.kernel.add_pwm()
    duty = "class/pwm/pwmchip0/pwm0/duty_cycle"
    bench.kernel.write("class/pwm/pwmchip0/export", "0")
    bench.kernel.held |= {duty: "800000", "class/pwm/pwmchip0/pwm0/period": "1000000",
                          "class/pwm/pwmchip0/pwm0/enable": "1",
                          "class/leds/relay-blue/brightness": "255"}  # fmt: skip
    broker = bench.broker = FakeBroker()

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    duties: list[str] = []
    monkeypatch.setattr("photoperiod.board.disk.replace_file", refuse)
    bench.system.at(25, lambda: setattr(broker, "offered", finer_table()))
    bench.system.at(110, lambda: duties.append(bench.kernel.held[duty]))
    bench.run()
    assert [round(int(text) / 10_000) for text in duties] in ([79], [80])
    assert any("can't write" in text and "no space left" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_a_handed_out_table_is_written_when_the_disk_can_be_written_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A broker hands it out once: a card that was read-only just then must not lose it."""
    bench = Bench(tmp_path, STEADY, BOARD.replace("channels:\n", BROKER), stop_s=120)
    bench.light(code(80))
    broker, new = FakeBroker(), table((0, 70))
    bench.broker = broker
    real = disk.replace_file

    def refuse(path: Path, raw: bytes) -> None:
        if path == bench.table and bench.system.boot - bench.system.began < 60:
            raise OSError(errno.EROFS, "Read-only file system")
        real(path, raw)

    monkeypatch.setattr(disk, "replace_file", refuse)
    bench.system.at(25, lambda: setattr(broker, "offered", new))
    assert bench.watch([55, 75]) == [(code(80), True), (code(70), True)]
    assert bench.table.read_bytes() == new
    assert bench.events() == ["start", "refused", "reload", "stop"]
    assert sum(text.startswith("alarm: can't write") for text in bench.said) == 1


def test_a_table_of_a_zone_that_the_machine_does_not_know_is_refused(tmp_path: Path) -> None:
    def elsewhere(data: dict[str, Any]) -> None:
        data["time_zone"] = "Mars/Base"

    bench = Bench(tmp_path, STEADY, stop_s=60)
    bench.light(code(80))
    raw = table((0, 20), clock="civil", change=elsewhere)
    bench.system.at(25, lambda: bench.put_table(raw, MIDNIGHT))
    bench.run()
    assert any("PHO506" in text and "Mars/Base" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_a_table_that_becomes_a_pipe_freezes_nothing(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))

    def pipe() -> None:
        bench.table.unlink()
        os.mkfifo(bench.table)

    bench.system.at(25, pipe)
    bench.system.at(61, bench.table.unlink)
    bench.system.at(62, lambda: bench.put_table(table((0, 70)), MIDNIGHT))
    assert bench.watch([60, 99]) == [(code(80), True), (code(70), True)]
    assert bench.events() == ["start", "refused", "reload", "stop"]
    assert any("pipe or a device, not a file" in text for text in bench.said)


def test_a_table_for_a_converter_that_nobody_named_is_refused(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: bench.put_table(finer_table(), MIDNIGHT))
    assert bench.watch([60]) == [(code(80), True)]
    (alarm,) = [text for text in bench.said if text.startswith("alarm")]
    assert "another converter of 'blue' than the last good one: 14 bits, not 12" in alarm
    assert "write `bits` and `full_scale_volts`" in alarm


def test_a_table_with_more_channels_than_at_the_start_is_refused(tmp_path: Path) -> None:
    head, _ = BOARD.split("channels:")
    bench = Bench(tmp_path, STEADY, head + "other_channels: stdout\n")
    more = table((0, 70), channels=("blue", "white"))
    bench.system.at(25, lambda: bench.put_table(more, MIDNIGHT))
    bench.system.stop_s = 70
    assert bench.run() == 0
    assert any("the table has other channels (white) than at the start" in t for t in bench.said)


def test_the_copy_of_the_last_good_table_is_made_again_with_its_folder(tmp_path: Path) -> None:
    """Or a table for another board, and a restart, would leave the lamps dark."""
    bench = Bench(tmp_path, STEADY, stop_s=1300)
    bench.system.at(45, lambda: shutil.rmtree(tmp_path / "state"))
    bench.run()
    assert (tmp_path / "state" / "table.good").read_bytes() == STEADY


@pytest.mark.parametrize("comes_s", (25, 0))
def test_the_copy_follows_a_table_that_came_while_it_could_not_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, comes_s: float
) -> None:
    """Or a table that vanishes later, and a restart, would bring back the one before."""
    new = table((0, 70))
    bench = Bench(tmp_path, STEADY if comes_s else new, stop_s=300)
    bench.light(code(70))
    bench.store.make()
    bench.store.good_table.write_bytes(STEADY)
    copies: list[bytes] = []
    real = disk.replace_file

    def refuse(path: Path, raw: bytes) -> None:
        if path == bench.store.good_table and bench.system.boot - bench.system.began < 130:
            raise OSError(errno.EROFS, "Read-only file system")
        real(path, raw)

    monkeypatch.setattr(disk, "replace_file", refuse)
    if comes_s:
        bench.system.at(comes_s, lambda: bench.put_table(new, MIDNIGHT))
    for second in (125, 195):
        bench.system.at(second, lambda: copies.append(bench.store.good_table.read_bytes()))
    bench.run()
    assert copies == [STEADY, new]
    told = [text for text in bench.said if "copy of the table" in text]
    words = "the copy of the table that is played can't be written: read-only file system"
    assert told == [f"alarm: {words}", f"alarm over: {words}"]
