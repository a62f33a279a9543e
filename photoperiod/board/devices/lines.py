"""GPIO lines by name, through the kernel's character device.

Source: Documentation/userspace-api/gpio/chardev.rst of Linux. Whoever requests a line has it alone as long as
the request is open. It ends with its process, and from then on the kernel may let the line go.
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from gpiod import LineRequest


class Drive(StrEnum):
    """How an output drives its line; the other level comes from a resistor."""

    PUSH_PULL = "push-pull"
    OPEN_DRAIN = "open-drain"
    OPEN_SOURCE = "open-source"


class Bias(StrEnum):
    """The resistor inside the chip at an input."""

    AS_IS = "as-is"
    DISABLED = "disabled"
    PULL_UP = "pull-up"
    PULL_DOWN = "pull-down"


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A line of a chip.

    Parameters
    ----------
    chip, label : str
        The chip's name, such as ``gpiochip0``, and what it is called by its driver, which stays the same.
    offset : int
        The number of the line on its chip.
    name : str
        Its name; empty if it has none.
    holder : str or None
        Who has requested it; None if nobody has.
    """

    chip: str
    label: str
    offset: int
    name: str
    holder: str | None = None

    def __str__(self) -> str:
        """Return chip and number, for people."""
        return f"line {self.offset} of {self.chip} ({self.label})"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineUse:
    """What a line is requested for.

    Parameters
    ----------
    consumer : str
        Who requests it; the kernel shows 31 bytes of this to others.
    is_output : bool
        True for a relay, False for what is sensed.
    active_low : bool
        True if a low line is active.
    drive : Drive
        How an output drives it.
    bias : Bias
        The resistor at an input.
    """

    consumer: str
    is_output: bool
    active_low: bool = False
    drive: Drive = Drive.PUSH_PULL
    bias: Bias = Bias.AS_IS


class Lines(Protocol):
    """The lines of all chips, and the one that this object has requested; OSError as the kernel raises it."""

    def find(self) -> list[FoundLine]:
        """Return all lines that have a name, chip by chip."""

    def take(self, chip: str, offset: int, use: LineUse) -> bool:
        """Request a line, unless it is requested already; return True if it is active.

        A line that is an output already keeps its level; else an output begins inactive.
        """

    def get(self) -> bool:
        """Return True if the requested line is active."""

    def set(self, is_active: bool) -> None:
        """Make the requested line active or inactive."""


class CharLines:
    """The real lines.

    Parameters
    ----------
    devices : Path
        Where the chips are.
    """

    def __init__(self, devices: Path = Path("/dev")) -> None:
        self._devices = devices
        self._request: LineRequest | None = None
        self._taken: tuple[str, int, LineUse] | None = None

    def find(self) -> list[FoundLine]:
        """Return all lines that have a name; raise if no chip may be opened."""
        found, refused = [], None
        for path in self._chips():
            try:
                found += list(_named_lines(path))
            except OSError as error:
                refused = OSError(error.errno, error.strerror, str(path))
        if not found and refused is not None:
            raise refused
        return found

    def _chips(self) -> list[Path]:
        """Return the real paths of all chips, in the order of their numbers."""
        paths = {path.resolve() for path in self._devices.glob("gpiochip*")}
        return sorted(paths, key=lambda path: (len(path.name), path.name))

    def take(self, chip: str, offset: int, use: LineUse) -> bool:
        """Request a line; one that this object has already, and that is still there, is kept."""
        if self._taken == (chip, offset, use):
            with contextlib.suppress(OSError):
                return self.get()
        self._let_go()
        self._request = _request(str(self._devices / chip), offset, use)
        self._taken = (chip, offset, use)
        return self.get()

    def _let_go(self) -> None:
        self._taken = None
        if self._request is not None:
            self._request.release()
            self._request = None

    def get(self) -> bool:
        """Return True if the line is active, as the chip sees it."""
        request, offset = self._requested()
        return bool(request.get_value(offset).value)

    def set(self, is_active: bool) -> None:
        """Make the line active or inactive."""
        from gpiod.line import Value

        request, offset = self._requested()
        request.set_value(offset, Value.ACTIVE if is_active else Value.INACTIVE)

    def _requested(self) -> tuple[LineRequest, int]:
        if self._request is None or self._taken is None:
            raise OSError(
                errno.EBADF, "its writer was started again, and has not taken the line yet"
            )
        return self._request, self._taken[1]


def _named_lines(path: Path) -> Iterator[FoundLine]:
    import gpiod

    with gpiod.Chip(str(path)) as chip:
        about = chip.get_info()
        for offset in range(about.num_lines):
            line = chip.get_line_info(offset)
            if line.name:
                holder = (line.consumer or "the kernel") if line.used else None
                yield FoundLine(about.name, about.label, offset, line.name, holder)


def _request(path: str, offset: int, use: LineUse) -> LineRequest:
    """Request a line. What an output puts out already is read first, and then put out again."""
    import gpiod
    from gpiod.line import Direction, Value

    with gpiod.Chip(path) as chip:
        is_output = chip.get_line_info(offset).direction == Direction.OUTPUT
        keeps = use.is_output and is_output
        first = (
            gpiod.LineSettings(active_low=use.active_low)
            if keeps
            else _settings(use, Value.INACTIVE)
        )
        request = chip.request_lines({offset: first}, consumer=use.consumer)
        if keeps:
            try:
                request.reconfigure_lines({offset: _settings(use, request.get_value(offset))})
            except OSError:
                request.release()
                raise
        return request


def _settings(use: LineUse, value: Any) -> Any:
    """Return what a line is requested with, in the words of the library."""
    import gpiod
    from gpiod.line import Bias as GpiodBias
    from gpiod.line import Direction
    from gpiod.line import Drive as GpiodDrive

    if not use.is_output:
        bias = GpiodBias[use.bias.name]
        return gpiod.LineSettings(direction=Direction.INPUT, active_low=use.active_low, bias=bias)
    return gpiod.LineSettings(
        direction=Direction.OUTPUT,
        active_low=use.active_low,
        drive=GpiodDrive[use.drive.name],
        output_value=value,
    )
