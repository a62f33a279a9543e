"""Pulse-width outputs against a kernel that refuses what the real one refuses."""

from __future__ import annotations

import pytest

from photoperiod.board.config import OutputConfig, OutputKind
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch
from photoperiod.board.devices.pwm import PwmOutput
from tests.board.devices.settings import NOMINAL, setting
from tests.board.fake_kernel import FakeKernel

FOLDER = "class/pwm/pwmchip0/pwm1"


def pwm(period_ns: int = 1_000_000, polarity: str | None = None) -> OutputConfig:
    return OutputConfig(
        kind=OutputKind.PWM, chip=0, channel=1, period_ns=period_ns, polarity=polarity
    )


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
    output.write(setting(1024))
    assert kernel.held[f"{FOLDER}/duty_cycle"] == "250000"  # 1024 / 4096
    output.write(setting(0))
    assert (kernel.held[f"{FOLDER}/duty_cycle"], kernel.held[f"{FOLDER}/enable"]) == ("0", "1")


@pytest.mark.parametrize("period", [250_000, 4_000_000])
def test_another_period_keeps_the_share_and_never_more(period: int) -> None:
    kernel = FakeKernel().add_pwm()
    first = PwmOutput(pwm(), kernel)
    first.open(NOMINAL)
    first.write(setting(2048))
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
    output.write(setting(1))
    assert kernel.held[f"{FOLDER}/duty_cycle"] == "0"
    kernel.least_duty = 10_000
    with pytest.raises(OSError, match="Invalid argument"):
        output.write(setting(30))


def test_a_chip_that_is_not_there() -> None:
    with pytest.raises(DeviceFault, match="pwmchip0' is not there"):
        PwmOutput(pwm(), FakeKernel()).open(NOMINAL)
