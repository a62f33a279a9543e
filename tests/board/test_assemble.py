"""How a player begins: its first table and its devices."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from photoperiod.board.assemble import first_table, start_player
from photoperiod.board.devices.gpio import GpioRelay
from photoperiod.board.devices.iio import IioOutput
from photoperiod.board.devices.led import LedRelay
from photoperiod.board.devices.mqtt import MqttOutput, MqttRelay
from photoperiod.board.devices.pwm import PwmOutput
from photoperiod.board.devices.stdout import StdoutOutput
from photoperiod.board.devices.sysfs import NoWriters
from photoperiod.errors import OutsideWorldError
from tests.board.bench import BOARD, STEADY, Bench, FakeBroker, code, finer_table, table
from tests.board.fake_kernel import IIO, FakeLines


def test_a_device_that_is_another_ends_the_player(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, BOARD.replace("channel: 0}", "channel: 0, gain: 2.5}"))
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "0.25"
    with pytest.raises(OutsideWorldError, match="by the table's converter") as caught:
        bench.begin()
    assert caught.value.code == "PHO507"
    assert bench.kernel.writes == []


def test_the_last_good_table_is_played_if_the_file_is_broken(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=20)
    bench.run()
    bench.put_table(STEADY[:-40])
    file = bench.board_file()
    assert file.config is not None
    around = bench.surroundings(file.config)
    loaded, refused = first_table(file, around)
    assert loaded is not None and loaded.raw == STEADY
    assert refused is not None and refused.code == "PHO505"
    start_player(around, loaded, refused)
    assert any("PHO505" in text and "the last good table goes on" in text for text in bench.said)


def test_without_any_table_the_relays_are_opened(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY[:-40])
    bench.light(code(80))
    file = bench.board_file()
    assert file.config is not None
    with pytest.raises(OutsideWorldError) as caught:
        first_table(file, bench.surroundings(file.config))
    assert caught.value.code == "PHO505"
    assert (bench.code, bench.relay) == (code(80), False)


def test_a_relay_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY[:-40])
    bench.kernel.gone.add("class/leds/relay-blue")
    file = bench.board_file()
    assert file.config is not None
    with pytest.raises(OutsideWorldError, match="it is not JSON"):
        first_table(file, bench.surroundings(file.config))
    why, *faults = bench.said  # why it is done comes before what goes wrong in it
    assert why.startswith("no table can be played, so relays are opened: ") and "not JSON" in why
    assert faults == [
        "can't open the relay of 'blue': 'class/leds/relay-blue/brightness' is not there"
    ]


def test_a_relay_that_stays_closed_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY[:-40])
    bench.light(code(80))
    bench.kernel.frozen["class/leds/relay-blue/brightness"] = "255"
    file = bench.board_file()
    assert file.config is not None
    with pytest.raises(OutsideWorldError, match="it is not JSON"):
        first_table(file, bench.surroundings(file.config))
    assert bench.said[1:] == [
        "can't open the relay of 'blue': it is still closed: its lamp may burn"
    ]


def test_without_the_library_for_lines_the_fault_of_the_table_is_told_all_the_same(
    tmp_path: Path,
) -> None:
    def no_library() -> FakeLines:
        raise OutsideWorldError("PHO508", "the library for them is not installed", "pip install it")

    text = BOARD.replace("{kind: led, name: relay-blue}", "{kind: gpio, line: relay-white}")
    bench = Bench(tmp_path, STEADY[:-40], text)
    file = bench.board_file()
    assert file.config is not None
    around = replace(bench.surroundings(file.config), writers=NoWriters(bench.kernel, no_library))
    with pytest.raises(OutsideWorldError, match="it is not JSON"):
        first_table(file, around)
    assert bench.said[1:] == [
        "can't open the relay of 'blue': the library for them is not installed"
    ]
    bench.put_table(STEADY)
    with pytest.raises(OutsideWorldError) as caught:
        start_player(around, around.file.load(file.config))
    assert caught.value.code == "PHO508"


def test_lines_that_share_a_name_end_the_player(tmp_path: Path) -> None:
    text = BOARD.replace("{kind: led, name: relay-blue}", "{kind: gpio, line: relay-white}")
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.add_gpio().add_gpio(chip="gpiochip1", label="soc")
    with pytest.raises(OutsideWorldError, match="2 lines are called 'relay-white'") as caught:
        bench.begin()
    assert caught.value.code == "PHO507" and bench.kernel.writes == []


def test_a_table_for_other_channels_is_shown_in_the_board_file(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), channels=("blue", "white")))
    bench.light(code(80))
    file = bench.board_file()
    assert file.config is not None
    loaded, refused = first_table(file, bench.surroundings(file.config))
    assert loaded is None and refused is not None and refused.code == "PHO506"
    assert [finding.code for finding in file.report] == ["PHO701"]
    assert file.config is None and bench.relay is False


def test_a_restart_with_a_table_for_another_converter_plays_the_last_good_table(
    tmp_path: Path,
) -> None:
    text = BOARD.replace("channel: 0}", "channel: 0, gain: 2.44140625}")
    bench = Bench(tmp_path, STEADY, text, stop_s=20)
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "1.0"  # 12 bits of 4.096 V
    bench.run()
    bench.put_table(finer_table())
    player = bench.begin()
    assert player.loaded.raw == STEADY
    assert any("PHO507" in text and "the last good table goes on" in text for text in bench.said)


def test_a_start_with_a_table_for_a_converter_that_nobody_named(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=20)
    bench.run()
    bench.put_table(finer_table())
    file = bench.board_file()
    assert file.config is not None
    around = bench.surroundings(file.config)
    loaded, refused = first_table(file, around)
    assert loaded is not None and loaded.raw == STEADY
    assert refused is not None and "14 bits, not 12" in str(refused)


@pytest.mark.parametrize(
    ("output", "kind"),
    [
        ('{kind: iio, device: "iio:device0", channel: 0}', IioOutput),
        ("{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}", PwmOutput),
        ("{kind: mqtt}", MqttOutput),
        ("{kind: stdout}", StdoutOutput),
    ],
)
@pytest.mark.parametrize(
    ("relay", "relay_kind"),
    [
        ("{kind: led, name: relay-blue}", LedRelay),
        ("{kind: gpio, line: relay-white}", GpioRelay),
        ("{kind: mqtt}", MqttRelay),
    ],
)
def test_each_kind_has_its_device(
    tmp_path: Path, output: str, kind: type, relay: str, relay_kind: type
) -> None:
    head, _ = BOARD.split("channels:")
    broker = "broker: {host: h, topic: bench}"
    text = f"{head}{broker}\nchannels:\n  blue: {{output: {output}, relay: {relay}}}\n"
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.add_pwm().add_gpio()
    bench.broker = FakeBroker()
    channel = bench.begin().channels["blue"]
    assert (type(channel.output.device), type(channel.relay.device)) == (kind, relay_kind)
