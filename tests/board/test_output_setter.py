"""Setting all channels: what is written, in which order, and what of it is recorded."""

from __future__ import annotations

from pathlib import Path

from tests.board.bench import HOUR, MQTT, STEADY, TWO, Bench, FakeBroker, code, table
from tests.board.fake_kernel import IIO

RELAY = "class/leds/relay-blue/brightness"


def test_what_is_there_already_is_not_written_again_unless_it_must_be(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    player = bench.begin()
    player.step()
    bench.kernel.writes.clear()
    player.step()
    assert bench.kernel.writes == []
    player.setter.must_write = True
    player.step()
    assert bench.kernel.writes == [(f"{IIO}/out_voltage0_raw", str(code(80))), (RELAY, "255")]
    assert not player.setter.must_write


def test_each_channel_has_a_record_each_minute_and_at_each_change(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), channels=("blue", "white")), TWO, stop_s=HOUR)
    bench.kernel.add_converter(device="bus/iio/devices/iio:device1").add_led("relay-white")
    bench.light(code(80))
    bench.run()
    times = {id: [r[0][11:19] for r in bench.records() if r[1] == id] for id in ("blue", "white")}
    # Sixty minutes and the stop; the other one rises softly, with a record for each count.
    assert len(times["blue"]) == 61 and times["blue"][:3] == ["12:00:00", "12:01:00", "12:02:00"]
    assert len(times["white"]) > 90


def test_devices_of_the_board_are_set_before_topics(tmp_path: Path) -> None:
    """They need no word in the state before, and so no disk."""
    text = MQTT + (
        "  white:\n    output: {kind: iio, device: 'iio:device0', channel: 0}\n"
        "    relay: {kind: led, name: relay-blue}\n"
    )
    bench = Bench(tmp_path, table((0, 80), channels=("blue", "white")), text)
    broker = bench.broker = FakeBroker()
    seen: list[bool] = []
    publish = broker.publish

    def note(topic: str, text: str, *, closes: bool | None = None) -> None:
        seen.append(bench.relay)
        publish(topic, text, closes=closes)

    broker.publish = note  # type: ignore[method-assign]
    bench.begin().step()
    assert seen == [True, True]
