"""Relays and contacts on GPIO lines."""

from __future__ import annotations

import errno
import os

import pytest

from photoperiod.board.config import RelayConfig, RelayKind, SenseConfig, SenseKind
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch
from photoperiod.board.devices.gpio import GpioContact, GpioRelay
from photoperiod.board.devices.lines import Bias, Drive, Lines, LineUse
from tests.board.fake_kernel import FakeKernel, FakeLines

VALUE = "lines/gpiochip0/0/value"


def relay(lines: Lines, line: str = "relay-white", chip: str = "", **more: object) -> GpioRelay:
    config = RelayConfig(kind=RelayKind.GPIO, line=line, chip=chip, **more)  # type: ignore[arg-type]
    return GpioRelay(config, lines)


@pytest.mark.parametrize("active_low", [False, True])
def test_a_line_begins_open(active_low: bool) -> None:
    kernel = FakeKernel().add_gpio()
    one = relay(kernel.new_lines(), active_low=active_low)
    assert one.open() is False
    assert kernel.held[VALUE] == ("1" if active_low else "0")
    one.write(True)
    assert kernel.held[VALUE] == ("0" if active_low else "1")
    assert one.read_back() is True
    kernel.held[VALUE] = "1" if active_low else "0"  # from outside
    assert one.read_back() is False


def test_a_line_that_is_an_output_already_is_not_touched() -> None:
    kernel = FakeKernel().add_gpio()
    kernel.held |= {VALUE: "1", "lines/gpiochip0/0/direction": "out"}
    assert relay(kernel.new_lines()).open() is True
    assert kernel.writes == []


def test_a_line_that_is_its_own_is_kept_when_it_is_opened_again() -> None:
    kernel = FakeKernel().add_gpio()
    kernel.lines[0].falls_to = "0"
    one = relay(kernel.new_lines())
    one.open()
    one.write(True)
    assert one.open() is True  # it was not let go meanwhile: the lamp would have gone off


def test_a_line_is_asked_for_as_the_board_file_says() -> None:
    lines = FakeKernel().add_gpio().new_lines()
    relay(lines, active_low=True, drive=Drive.OPEN_DRAIN).open()
    me = f"photoperiod {os.getpid()}"
    assert lines.use == LineUse(
        consumer=me, is_output=True, active_low=True, drive=Drive.OPEN_DRAIN
    )


def test_two_players_on_one_line() -> None:
    kernel = FakeKernel().add_gpio()
    first, second = kernel.new_lines(), relay(kernel.new_lines())
    use = LineUse(consumer="photoperiod 812", is_output=True)
    first.take("gpiochip0", 0, use)
    with pytest.raises(DeviceFault) as caught:
        second.open()
    assert str(caught.value) == (
        "line 0 of gpiochip0 (expander) is taken by 'photoperiod 812', another player: stop one of them"
    )
    first.let_go()
    assert second.open() is False


@pytest.mark.parametrize(
    ("holder", "words"),
    [
        ("sysfs", "taken by 'sysfs'"),
        (f"photoperiod {os.getpid()}", "an earlier writer of this player that has not ended yet"),
    ],
    ids=["somebody", "this player"],
)
def test_a_line_that_somebody_has_taken(holder: str, words: str) -> None:
    kernel = FakeKernel().add_gpio()
    kernel.lines[0].holder = holder
    with pytest.raises(DeviceFault, match=words):
        relay(kernel.new_lines()).open()


def test_a_line_that_was_taken_a_moment_ago() -> None:
    kernel = FakeKernel().add_gpio()
    kernel.locked.add(VALUE)
    with pytest.raises(DeviceFault, match="taken by somebody else"):
        relay(kernel.new_lines()).open()


def test_lines_that_share_a_name() -> None:
    kernel = FakeKernel().add_gpio().add_gpio("other", chip="gpiochip1", label="soc")
    kernel.add_gpio("relay-white", chip="gpiochip1", label="soc")
    with pytest.raises(DeviceMismatch) as caught:
        relay(kernel.new_lines()).open()
    assert str(caught.value) == (
        "2 lines are called 'relay-white': line 0 of gpiochip0 (expander), line 1 of gpiochip1 (soc);"
        " say which one with `chip`"
    )
    for chip in ("gpiochip1", "soc"):
        lines = kernel.new_lines()
        assert relay(lines, chip=chip).open() is False
        assert lines.line is kernel.lines[2]
        lines.let_go()
    kernel.add_gpio("relay-white", chip="gpiochip1", label="soc")
    with pytest.raises(DeviceMismatch, match="give one another name"):
        relay(kernel.new_lines(), chip="soc").open()
    twice = FakeKernel().add_gpio().add_gpio()
    with pytest.raises(DeviceMismatch, match=r"line 0 .*, line 1 .*; give one another name"):
        relay(twice.new_lines()).open()


def test_a_line_that_does_not_exist() -> None:
    kernel = FakeKernel()
    with pytest.raises(DeviceFault, match="no line of any chip has a name here"):
        relay(kernel.new_lines()).open()
    kernel.add_gpio().add_gpio("mirror-blue")
    with pytest.raises(DeviceFault, match="no line 'relay-whit'; did you mean 'relay-white'"):
        relay(kernel.new_lines(), "relay-whit").open()
    with pytest.raises(DeviceFault, match="allowed here: relay-white, mirror-blue"):
        relay(kernel.new_lines(), "pump").open()
    elsewhere = r"the line 'relay-white' is line 0 of gpiochip0 \(expander\), not on chip 'soc'"
    with pytest.raises(DeviceFault, match=elsewhere):
        relay(kernel.new_lines(), chip="soc").open()


def test_a_writer_that_was_started_again_takes_the_line_again() -> None:
    kernel = FakeKernel().add_gpio()
    lines = kernel.new_lines()
    one = relay(lines)
    one.open()
    lines.let_go()
    for ask in (one.read_back, lambda: one.write(False)):
        with pytest.raises(OSError) as caught:
            ask()
        assert caught.value.errno == errno.EBADF
    assert one.open() is False and one.read_back() is False


class Busy(FakeLines):
    def take(self, chip: str, offset: int, use: LineUse) -> bool:
        raise PermissionError(errno.EACCES, "Permission denied", f"/dev/{chip}")


def test_other_refusals_are_those_of_the_kernel() -> None:
    with pytest.raises(PermissionError):
        relay(Busy(FakeKernel().add_gpio())).open()


def test_a_contact_is_read_and_found_again() -> None:
    kernel = FakeKernel().add_gpio("mirror-blue")
    lines = kernel.new_lines()
    config = SenseConfig(kind=SenseKind.CONTACT, line="mirror-blue", bias=Bias.PULL_UP)
    contact = GpioContact(config, lines)
    assert contact.read() == 0.0
    assert lines.use is not None and not lines.use.is_output and lines.use.bias is Bias.PULL_UP
    kernel.held[VALUE] = "1"
    assert contact.read() == 1.0
    kernel.gone.add("lines/gpiochip0")
    for _ in range(2):
        with pytest.raises(DeviceFault, match="no line of any chip"):
            contact.read()
    kernel.gone.clear()
    assert contact.read() == 1.0
    kernel.hung.add("lines/gpiochip0")
    with pytest.raises(TimeoutError):
        contact.read()
    kernel.hung.clear()
    lines.let_go()  # its writer was started again
    assert contact.read() == 1.0
