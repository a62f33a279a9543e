"""Outputs and relays against a kernel that refuses what the real one refuses."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from photoperiod.board.config import OutputPlan, RelayPlan
from photoperiod.board.outputs import IioOutput, LinesOutput, Put, PwmOutput
from photoperiod.board.relays import GpioRelay, LedRelay
from photoperiod.board.sysfs import DeviceFault, DeviceMismatch, Sysfs
from photoperiod.drive.converter import Converter
from photoperiod.player.outputs import OutputState
from tests.board.bench import IIO, FakeKernel

NOMINAL = Converter.nominal(12, 10.0, 10.0)


def put(code: int, relay: bool = True) -> Put:
    volts = code * 10 / 4096
    return Put("blue", "2027-03-02T12:00:00Z", OutputState(80, 10 * volts, volts, code, relay, 0.5))


def iio(**plan: object) -> OutputPlan:
    return OutputPlan(**({"kind": "iio", "device": "iio:device0"} | plan))  # type: ignore[arg-type]


def pwm(period_ns: int = 1_000_000, polarity: str | None = None) -> OutputPlan:
    return OutputPlan(kind="pwm", chip=0, channel=1, period_ns=period_ns, polarity=polarity)


# ---- converters


def test_a_converter_gets_the_code_of_the_table() -> None:
    kernel = FakeKernel().add_converter(2)
    output = IioOutput(iio(channel=1), kernel)
    kernel.held[f"{IIO}/out_voltage1_raw"] = "77"
    assert output.open(NOMINAL) == 77
    assert kernel.writes == []
    output.set(put(4095))
    output.set(put(0))
    assert kernel.writes == [(f"{IIO}/out_voltage1_raw", "4095"), (f"{IIO}/out_voltage1_raw", "0")]
    with pytest.raises(OSError, match="Invalid argument"):
        output.set(put(4096))


def test_a_converter_is_found_by_its_name_and_label() -> None:
    kernel = FakeKernel().add_converter(device="bus/iio/devices/iio:device3")
    kernel.held["bus/iio/devices/iio:device3/label"] = "dac-back"
    for name in ("dac-front", "dac-back"):
        output = IioOutput(iio(device=name), kernel)
        output.open(NOMINAL)
        output.set(put(5))
        assert kernel.held["bus/iio/devices/iio:device3/out_voltage0_raw"] == "5"
    kernel.add_converter(device="bus/iio/devices/iio:device4")
    with pytest.raises(DeviceMismatch, match="2 devices are called 'dac-front'"):
        IioOutput(iio(device="dac-front"), kernel).open(NOMINAL)
    with pytest.raises(DeviceFault, match="no device 'dac'"):
        IioOutput(iio(device="dac"), kernel).open(NOMINAL)


def test_what_only_measures_is_no_converter() -> None:
    kernel = FakeKernel()
    kernel.held[f"{IIO}/in_voltage0_raw"] = "1"
    with pytest.raises(DeviceFault, match="it only measures"):
        IioOutput(iio(), kernel).open(NOMINAL)


def test_a_converter_must_be_writable() -> None:
    kernel = FakeKernel().add_converter()
    kernel.read_only.add(f"{IIO}/out_voltage0_raw")
    with pytest.raises(DeviceFault, match="may not be written"):
        IioOutput(iio(), kernel).open(NOMINAL)


# A 12-bit converter of 4.096 V has a scale of 1 mV; 10 V then need a gain of 10 / 4.096.
@pytest.mark.parametrize(
    ("name", "scale", "gain", "fits"),
    [
        ("out_voltage0_scale", "1.000000000", 10 / 4.096, True),
        ("out_voltage_scale", "1.000000000", 10 / 4.096, True),
        ("out_voltage0_scale", "1.000000000", 2.5, True),  # 10.24 V: a resistor's tolerance
        ("out_voltage0_scale", "1.000000000", 3.0, False),
        ("out_voltage0_scale", "0.250000000", 10 / 4.096, False),  # it is of 14 bits
        ("out_voltage0_scale", "0.250000000", None, True),  # nothing is known of the amplifier
    ],
)
def test_scale_and_gain_must_fit_the_table(
    name: str, scale: str, gain: float | None, fits: bool
) -> None:
    kernel = FakeKernel().add_converter()
    kernel.held[f"{IIO}/{name}"] = scale
    output = IioOutput(iio(gain=gain), kernel)
    if fits:
        output.open(NOMINAL)
    else:
        with pytest.raises(DeviceMismatch, match="by the table's converter"):
            output.open(NOMINAL)


def test_a_stage_that_is_powered_down_is_never_off() -> None:
    """Powered down it floats, and an open pair means full light."""
    kernel = FakeKernel().add_converter()
    kernel.held |= {f"{IIO}/out_voltage0_powerdown": "1", f"{IIO}/out_voltage0_raw": "3000"}
    output = IioOutput(iio(), kernel)
    assert output.open(NOMINAL) is None
    assert kernel.writes == [
        (f"{IIO}/out_voltage0_raw", "0"),
        (f"{IIO}/out_voltage0_powerdown", "0"),
    ]
    output.set(put(100))
    output.set(put(0))
    assert not any(name.endswith("powerdown") and text == "1" for name, text in kernel.writes)


# ---- pulse width


FOLDER = "class/pwm/pwmchip0/pwm1"


def test_a_fresh_pulse_width_gets_its_period_first() -> None:
    kernel = FakeKernel().add_pwm()
    output = PwmOutput(pwm(), kernel)
    assert output.open(NOMINAL) is None
    assert kernel.writes == [
        ("class/pwm/pwmchip0/export", "1"),
        (f"{FOLDER}/period", "1000000"),
        (f"{FOLDER}/duty_cycle", "0"),
        (f"{FOLDER}/enable", "1"),
    ]
    output.set(put(1024))
    assert kernel.held[f"{FOLDER}/duty_cycle"] == "250000"  # 1024 / 4096
    output.set(put(0))
    assert (kernel.held[f"{FOLDER}/duty_cycle"], kernel.held[f"{FOLDER}/enable"]) == ("0", "1")


@pytest.mark.parametrize("period", [250_000, 4_000_000])
def test_another_period_keeps_the_share_and_never_more(period: int) -> None:
    kernel = FakeKernel().add_pwm()
    first = PwmOutput(pwm(), kernel)
    first.open(NOMINAL)
    first.set(put(2048))
    kernel.writes.clear()
    shares = []
    write = kernel.write

    def watched(name: str, text: str) -> None:
        write(name, text)
        shares.append(
            int(kernel.held[f"{FOLDER}/duty_cycle"]) / int(kernel.held[f"{FOLDER}/period"])
        )

    kernel.write = watched  # type: ignore[method-assign]
    assert PwmOutput(pwm(period), kernel).open(NOMINAL) == 2048
    assert shares[-1] == 0.5 and max(shares) <= 0.5
    assert len(kernel.writes) == 2


def test_one_that_runs_is_not_touched() -> None:
    kernel = FakeKernel().add_pwm()
    PwmOutput(pwm(), kernel).open(NOMINAL)
    kernel.held[f"{FOLDER}/duty_cycle"] = "800000"
    kernel.writes.clear()
    assert PwmOutput(pwm(), kernel).open(NOMINAL) == 3277  # 0.8 · 4096
    assert kernel.writes == []


def test_polarity_is_set_only_if_asked_for() -> None:
    kernel = FakeKernel().add_pwm()
    PwmOutput(pwm(polarity="inversed"), kernel).open(NOMINAL)
    assert kernel.held[f"{FOLDER}/polarity"] == "inversed"
    PwmOutput(pwm(), kernel).open(NOMINAL)
    assert kernel.held[f"{FOLDER}/polarity"] == "inversed"
    with pytest.raises(DeviceMismatch, match="while the output runs"):
        PwmOutput(pwm(polarity="normal"), kernel).open(NOMINAL)


def test_duties_that_a_driver_refuses_near_none_are_none() -> None:
    kernel = FakeKernel().add_pwm()
    kernel.least_duty = 1000
    output = PwmOutput(pwm(), kernel)
    output.open(NOMINAL)
    output.set(put(1))
    assert kernel.held[f"{FOLDER}/duty_cycle"] == "0"
    kernel.least_duty = 10_000
    with pytest.raises(OSError, match="Invalid argument"):
        output.set(put(30))


def test_a_chip_that_is_not_there() -> None:
    with pytest.raises(DeviceFault, match="pwmchip0' is not there"):
        PwmOutput(pwm(), FakeKernel()).open(NOMINAL)


# ---- relays


def test_an_led_is_all_or_nothing() -> None:
    kernel = FakeKernel().add_led(most=255)
    relay = LedRelay(RelayPlan(kind="led", name="relay-blue"), kernel)
    assert relay.open() is False and kernel.writes == []
    relay.set(True)
    assert kernel.held["class/leds/relay-blue/brightness"] == "255"
    assert relay.open() is True
    relay.set(False)
    assert kernel.held["class/leds/relay-blue/brightness"] == "0"


def test_a_trigger_must_not_blink_a_relay() -> None:
    kernel = FakeKernel().add_led()
    kernel.held["class/leds/relay-blue/trigger"] = "none [heartbeat]"
    LedRelay(RelayPlan(kind="led", name="relay-blue"), kernel).open()
    assert kernel.writes == [("class/leds/relay-blue/trigger", "none")]


@pytest.mark.parametrize("active_low", [False, True])
def test_a_pin_begins_open(active_low: bool) -> None:
    kernel = FakeKernel().add_gpio()
    relay = GpioRelay(RelayPlan(kind="gpio", number=17, active_low=active_low), kernel)
    assert relay.open() is False
    value = "class/gpio/gpio17/value"
    assert kernel.held[value] == ("1" if active_low else "0")
    relay.set(True)
    assert kernel.held[value] == ("0" if active_low else "1")
    kernel.writes.clear()
    assert relay.open() is True and kernel.writes == []


def test_a_pin_that_the_kernel_turns_round_is_refused() -> None:
    kernel = FakeKernel().add_gpio()
    relay = GpioRelay(RelayPlan(kind="gpio", number=17), kernel)
    relay.open()
    kernel.held["class/gpio/gpio17/active_low"] = "1"
    with pytest.raises(DeviceMismatch, match="active_low"):
        relay.open()


# ---- lines, and the real files


def test_a_line_for_each_change() -> None:
    stream = io.StringIO()
    LinesOutput(stream).set(put(2048))
    assert stream.getvalue() == (
        "2027-03-02T12:00:00Z blue count=80 code=2048 volts=5.0000 level_percent=50.00 relay=closed\n"
    )


def test_real_files_are_written_and_never_made(tmp_path: Path) -> None:
    files = Sysfs(tmp_path)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "raw").write_text("12345\n")
    assert files.read("a/raw") == "12345"
    files.write("a/raw", "7")
    assert (tmp_path / "a" / "raw").read_text() == "7"
    assert files.names("a") == ["raw"] and files.names("b") == []
    assert files.may_write("a/raw") and not files.may_write("a/other")
    with pytest.raises(FileNotFoundError):
        files.write("a/other", "7")
    assert not (tmp_path / "a" / "other").exists()
