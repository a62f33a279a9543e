"""The real lines, with a library whose kernel is made up.

What it refuses is what the kernel refuses. Sources, in Linux 6.1: gpio-v2-get-line-ioctl.rst in
Documentation/userspace-api/gpio; gpio_v2_line_flags_validate and linereq_set_values_unlocked in
drivers/gpio/gpiolib-cdev.c.
`benchmarks/kernel` has the real kernel.
"""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass, field
from pathlib import Path

import gpiod
import pytest
from gpiod.line import Bias as GpiodBias
from gpiod.line import Direction, Value
from gpiod.line import Drive as GpiodDrive

from photoperiod.board.devices.lines import Bias, CharLines, Drive, FoundLine, LineUse

OUT = LineUse(consumer="tests", is_output=True)


@dataclass
class Line:
    name: str | None
    direction: Direction = Direction.INPUT
    high: bool = False
    consumer: str = ""
    used: bool = False
    settings: gpiod.LineSettings = field(default_factory=gpiod.LineSettings)


@dataclass
class About:
    name: str
    label: str
    num_lines: int


class Request:
    def __init__(self, chip: Chip, line: Line) -> None:
        self.chip, self.line = chip, line

    def _must_be_there(self) -> None:
        if self.chip.gone:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))

    def get_value(self, offset: int) -> Value:
        self._must_be_there()
        is_active = self.line.high != self.line.settings.active_low
        return Value.ACTIVE if is_active else Value.INACTIVE

    def set_value(self, offset: int, value: Value) -> None:
        self._must_be_there()
        if self.line.direction is not Direction.OUTPUT:
            raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))
        self.line.high = (value is Value.ACTIVE) != self.line.settings.active_low
        self.chip.log.append(self.line.high)

    def reconfigure_lines(self, config: dict[int, gpiod.LineSettings]) -> None:
        ((_, settings),) = config.items()
        self.chip.configure(self.line, settings)

    def release(self) -> None:
        self.line.used, self.line.consumer = False, ""


class Chip:
    def __init__(self, about: About, lines: list[Line]) -> None:
        self.about, self.lines = about, lines
        self.log: list[bool] = []  # levels that were driven
        self.gone = False

    def __enter__(self) -> Chip:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def get_info(self) -> About:
        return self.about

    def get_line_info(self, offset: int) -> Line:
        return self.lines[offset]

    def request_lines(self, config: dict[int, gpiod.LineSettings], consumer: str) -> Request:
        ((offset, settings),) = config.items()
        line = self.lines[offset]
        if line.used:
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        self.configure(line, settings)
        line.used, line.consumer = True, consumer
        return Request(self, line)

    def configure(self, line: Line, settings: gpiod.LineSettings) -> None:
        if settings.drive is not GpiodDrive.PUSH_PULL and settings.direction != Direction.OUTPUT:
            raise OSError(errno.EINVAL, "drive requires explicit output direction")
        if settings.bias is not GpiodBias.AS_IS and settings.direction == Direction.AS_IS:
            raise OSError(errno.EINVAL, "bias requires explicit direction")
        line.settings = settings
        if settings.direction is Direction.OUTPUT:
            line.direction = Direction.OUTPUT
            line.high = (settings.output_value is Value.ACTIVE) != settings.active_low
            self.log.append(line.high)
        elif settings.direction is Direction.INPUT:
            line.direction = Direction.INPUT


@pytest.fixture
def chips(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Chip]:
    """Return two chips, of which the first one has two names in its folder."""
    made = {
        "gpiochip2": Chip(
            About("gpiochip2", "expander", 2), [Line("relay-white"), Line(None, Direction.OUTPUT)]
        ),
        "gpiochip10": Chip(
            About("gpiochip10", "soc", 1), [Line("led", used=True, consumer="leds")]
        ),
    }
    for name in made:
        (tmp_path / name).touch()
    (tmp_path / "gpiochip4").symlink_to(tmp_path / "gpiochip2")

    def open_chip(path: str) -> Chip:
        chip = made[Path(path).name]
        if chip.gone:
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        return chip

    monkeypatch.setattr(gpiod, "Chip", open_chip)
    return made


def test_lines_with_names_are_found_chip_by_chip(chips: dict[str, Chip], tmp_path: Path) -> None:
    assert CharLines(tmp_path).find() == [
        FoundLine("gpiochip2", "expander", 0, "relay-white"),
        FoundLine("gpiochip10", "soc", 0, "led", "leds"),
    ]
    assert CharLines(tmp_path / "nowhere").find() == []


def test_chips_that_may_not_be_opened_are_told_if_nothing_is_found(
    chips: dict[str, Chip], tmp_path: Path
) -> None:
    chips["gpiochip10"].gone = True
    assert len(CharLines(tmp_path).find()) == 1
    chips["gpiochip2"].gone = True
    with pytest.raises(FileNotFoundError) as caught:
        CharLines(tmp_path).find()
    assert str(caught.value.filename).endswith(("gpiochip2", "gpiochip10"))


@pytest.mark.parametrize("active_low", [False, True])
@pytest.mark.parametrize("is_active", [False, True])
def test_an_output_keeps_its_level_when_it_is_taken(
    chips: dict[str, Chip], tmp_path: Path, active_low: bool, is_active: bool
) -> None:
    chip = chips["gpiochip2"]
    line = chip.lines[0]
    line.direction, line.high = Direction.OUTPUT, is_active != active_low
    use = LineUse(consumer="tests", is_output=True, active_low=active_low, drive=Drive.OPEN_DRAIN)
    lines = CharLines(tmp_path)
    assert lines.take("gpiochip2", 0, use) is is_active
    assert set(chip.log) == {is_active != active_low}  # the lamp sees nothing of it
    assert line.settings.drive is GpiodDrive.OPEN_DRAIN
    lines.set(not is_active)
    assert lines.get() is not is_active and line.high is (is_active == active_low)


@pytest.mark.parametrize("active_low", [False, True])
def test_what_was_no_output_begins_inactive(
    chips: dict[str, Chip], tmp_path: Path, active_low: bool
) -> None:
    chip = chips["gpiochip2"]
    chip.lines[0].high = True
    use = LineUse(consumer="tests", is_output=True, active_low=active_low)
    assert CharLines(tmp_path).take("gpiochip2", 0, use) is False
    assert chip.log == [active_low]


def test_a_line_has_one_holder(chips: dict[str, Chip], tmp_path: Path) -> None:
    one, other = CharLines(tmp_path), CharLines(tmp_path)
    one.take("gpiochip2", 0, OUT)
    one.set(True)
    with pytest.raises(OSError) as caught:
        other.take("gpiochip2", 0, OUT)
    assert caught.value.errno == errno.EBUSY
    assert CharLines(tmp_path).find()[0].holder == "tests"
    assert one.take("gpiochip2", 0, OUT) is True  # asked for again, it is not let go
    assert chips["gpiochip2"].log == [False, True]
    one.take("gpiochip2", 1, OUT)  # another one: the first is free again
    assert other.take("gpiochip2", 0, OUT) is True


def test_a_chip_that_was_away_is_asked_anew(chips: dict[str, Chip], tmp_path: Path) -> None:
    lines = CharLines(tmp_path)
    lines.take("gpiochip2", 0, OUT)
    old = chips["gpiochip2"]
    old.gone = True
    for call in (lines.get, lambda: lines.set(True)):
        with pytest.raises(OSError, match="No such device"):
            call()
    chips["gpiochip2"] = Chip(old.about, [Line("relay-white")])
    assert lines.take("gpiochip2", 0, OUT) is False
    lines.set(True)
    assert chips["gpiochip2"].lines[0].high


def test_an_input_is_read_with_its_resistor(chips: dict[str, Chip], tmp_path: Path) -> None:
    line = chips["gpiochip2"].lines[0]
    line.high = True
    lines = CharLines(tmp_path)
    assert lines.take("gpiochip2", 0, LineUse(consumer="t", is_output=False, bias=Bias.PULL_UP))
    assert line.settings.bias is GpiodBias.PULL_UP and line.direction is Direction.INPUT
    with pytest.raises(PermissionError):
        lines.set(True)


def test_words_of_the_library_are_ours() -> None:
    assert {one.name for one in Drive} <= {one.name for one in GpiodDrive}
    assert {one.name for one in Bias} <= {one.name for one in GpiodBias}
