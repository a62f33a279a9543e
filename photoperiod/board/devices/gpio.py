"""Relays and contacts on GPIO lines."""

from __future__ import annotations

import errno
import os

from photoperiod.board.config import RelayConfig, SenseConfig
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch
from photoperiod.board.devices.lines import FoundLine, Lines, LineUse
from photoperiod.text import suggestion

#: Begins the name under which players take lines; the rest is the number of the process.
CONSUMER = "photoperiod"


class GpioRelay:
    """A relay on a line; an active line closes it.

    The line is this player's as long as its writer lives. Then the kernel may let it go, and the circuit
    decides: a resistor must open the relay.
    """

    is_wired = True
    is_let_go = True

    def __init__(self, config: RelayConfig, lines: Lines) -> None:
        self.config, self.lines = config, lines
        self.name = f"line {config.line}"

    def open(self) -> bool | None:
        """Take the line, with the relay open; a line that is an output already is not touched."""
        use = LineUse(
            consumer=_consumer(),
            is_output=True,
            active_low=self.config.active_low,
            drive=self.config.drive,
        )
        return take_by_name(self.lines, self.config.line, self.config.chip, use)

    def write(self, closed: bool) -> None:
        """Make the line active or inactive."""
        self.lines.set(closed)

    def read_back(self) -> bool | None:
        """Return whether the line is active, as the chip sees it."""
        return self.lines.get()


class GpioContact:
    """A contact that is read through a line: 1 is high."""

    def __init__(self, config: SenseConfig, lines: Lines) -> None:
        self.config, self.lines = config, lines
        self._is_taken = False

    def read(self) -> float:
        """Return 1 or 0; a line that was lost is looked for again by its name, which says what is wrong."""
        if self._is_taken:
            try:
                return float(self.lines.get())
            except TimeoutError:
                raise  # it hangs
            except OSError:
                self._is_taken = False
        use = LineUse(consumer=_consumer(), is_output=False, bias=self.config.bias)
        value = take_by_name(self.lines, self.config.line, self.config.chip, use)
        self._is_taken = True
        return float(value)


def take_by_name(lines: Lines, name: str, chip: str, use: LineUse) -> bool:
    """Request the line of a name; return True if it is active.

    Parameters
    ----------
    lines : Lines
        Where it is looked for.
    name : str
        Its name.
    chip : str
        Name or label of its chip; empty if the name alone says enough.
    use : LineUse
        What it is requested for.

    Raises
    ------
    DeviceFault
        If no line is called so, or somebody else has it.
    DeviceMismatch
        If several lines are called so.
    """
    all_lines = lines.find()
    found = [
        line for line in all_lines if line.name == name and chip in ("", line.chip, line.label)
    ]
    if len(found) > 1:
        places = ", ".join(map(str, found))
        can_tell = len({line.chip for line in found}) > 1
        way_out = "say which one with `chip`" if can_tell else "give one another name"
        raise DeviceMismatch(f"{len(found)} lines are called '{name}': {places}; {way_out}")
    if not found:
        raise DeviceFault(_not_there(all_lines, name, chip))
    (line,) = found
    try:
        return lines.take(line.chip, line.offset, use)
    except OSError as error:
        if error.errno != errno.EBUSY:
            raise
        raise DeviceFault(f"{line} is taken by {_holder(line, use)}") from error


def _not_there(lines: list[FoundLine], name: str, chip: str) -> str:
    """Return in words that there is no such line, and which there are."""
    elsewhere = [line for line in lines if line.name == name]
    if elsewhere:
        return f"the line '{name}' is {elsewhere[0]}, not on chip '{chip}'"
    if not lines:
        return f"there is no line '{name}': no line of any chip has a name here"
    names = list(dict.fromkeys(line.name for line in lines))
    return f"there is no line '{name}'; {suggestion(name, names)}"


def _holder(line: FoundLine, use: LineUse) -> str:
    """Return in words who has a line."""
    if line.holder is None:
        return "somebody else"
    if line.holder == use.consumer:
        return f"'{line.holder}', an earlier writer of this player that has not ended yet"
    if line.holder.startswith(CONSUMER):
        return f"'{line.holder}', another player: stop one of them"
    return f"'{line.holder}'"


def _consumer() -> str:
    """Return the name under which this process takes lines, so that others can tell who has one."""
    return f"{CONSUMER} {os.getpid()}"
