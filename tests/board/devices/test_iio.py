"""Converters against a kernel that refuses what the real one refuses."""

from __future__ import annotations

import pytest

from photoperiod.board.config import OutputConfig, OutputKind
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch
from photoperiod.board.devices.iio import IioOutput
from tests.board.devices.settings import NOMINAL, setting
from tests.board.fake_kernel import IIO, FakeKernel


def iio(**plan: object) -> OutputConfig:
    return OutputConfig(**({"kind": OutputKind.IIO, "device": "iio:device0"} | plan))  # type: ignore[arg-type]


def test_a_converter_gets_the_code_of_the_table() -> None:
    kernel = FakeKernel().add_converter(2)
    output = IioOutput(iio(channel=1), kernel)
    kernel.held[f"{IIO}/out_voltage1_raw"] = "77"
    assert output.open(NOMINAL) == 77
    assert kernel.writes == []
    output.write(setting(4095))
    output.write(setting(0))
    assert kernel.writes == [(f"{IIO}/out_voltage1_raw", "4095"), (f"{IIO}/out_voltage1_raw", "0")]
    with pytest.raises(OSError, match="Invalid argument"):
        output.write(setting(4096))


def test_a_converter_is_found_by_its_name_and_label() -> None:
    kernel = FakeKernel().add_converter(device="bus/iio/devices/iio:device3")
    kernel.held["bus/iio/devices/iio:device3/label"] = "dac-back"
    for name in ("dac-front", "dac-back"):
        output = IioOutput(iio(device=name), kernel)
        output.open(NOMINAL)
        output.write(setting(5))
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
    output.write(setting(100))
    output.write(setting(0))
    assert not any(name.endswith("powerdown") and text == "1" for name, text in kernel.writes)


def test_a_converter_says_what_it_holds() -> None:
    kernel = FakeKernel().add_converter()
    output = IioOutput(iio(), kernel)
    output.open(NOMINAL)
    output.write(setting(3000))
    assert output.read_back() == 3000
    kernel.held[f"{IIO}/out_voltage0_raw"] = "0"  # it was reset
    assert output.read_back() == 0
    kernel.held[f"{IIO}/out_voltage0_raw"] = "nothing that can be read"
    assert output.read_back() is None
    kernel.gone.add(IIO)
    with pytest.raises(DeviceFault, match="is not there"):
        output.read_back()


def test_a_converter_that_hangs_is_not_one_that_can_t_be_read_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kernel = FakeKernel().add_converter()
    output = IioOutput(iio(), kernel)
    output.open(NOMINAL)

    def hang(_name: str) -> str:
        raise TimeoutError(110, "It hangs")

    monkeypatch.setattr(kernel, "read", hang)
    with pytest.raises(TimeoutError):
        output.read_back()
