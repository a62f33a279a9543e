"""What measures whether a lamp burns: a mirror contact, volts at the control pair, a light sensor.

A relay that is read back says what it was told. A welded contact, a wire that fell off and a ballast that
died are seen only by what is measured behind them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from photoperiod.board.alarms import Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.config import SenseConfig, SenseKind
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.sysfs import Files
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.run_log import Record
from photoperiod.errors import os_reason
from photoperiod.player.reference import Output
from photoperiod.text import plain_number, utc_text

#: What is measured must differ for so long before it is an alarm [s]: contactors and lamps take a moment.
#: Our choice.
SETTLE_S = 10.0

#: How long a player that stops waits before it looks at its sensors. [s]
STOP_WAIT_S = 0.5

_WORDS = {
    SenseKind.CONTACT: "mirror contact",
    SenseKind.VOLTS: "pair",
    SenseKind.LIGHT: "light sensor",
}


class FileSensor:
    """A sensor whose number stands in a file."""

    def __init__(self, config: SenseConfig, files: Files) -> None:
        self.config, self.files = config, files

    def read(self) -> float:
        """Return the first number in the file."""
        first, *_ = self.files.read(self.config.file).split() or [""]
        number = float(first)
        is_contact = self.config.kind is SenseKind.CONTACT
        # What is no number is above nothing and below nothing: it would clear any alarm.
        if not (number in (0, 1) if is_contact else math.isfinite(number)):
            raise ValueError(first)
        return number


@dataclass(slots=True)
class SensorStatus:
    """A sensor and what it said last.

    Parameters
    ----------
    config : SenseConfig
        What it is.
    read : callable
        Returns the number that it says; raises `DeviceFault`, OSError, or ValueError if there is none.
    value : float or None
        This number; None if it can't be read.
    fault : str
        Why it can't be read; empty if it can.
    difference : str
        How what it says differs from what is put out; empty if it does not.
    burns : bool
        True if it says that the lamp burns, or may burn, although it should be dark.
    since_boot_s : float
        Since when there is this difference. [s since the machine started]
    against : tuple of bool, or None
        Whether the relay was closed, and the lamp lit, by what it was held against last.
    """

    config: SenseConfig
    read: Callable[[], float]
    value: float | None = None
    fault: str = ""
    difference: str = ""
    burns: bool = False
    since_boot_s: float = 0.0
    against: tuple[bool, bool] | None = None

    @property
    def name(self) -> str:
        """The name in messages."""
        place = self.config.file or f"line {self.config.line}"
        return f"{_WORDS[self.config.kind]} ({place})"

    def look(self, channel: ChannelOutput, boot_s: float) -> None:
        """Read the sensor, and hold it against what the devices of its channel put out."""
        try:
            self.value, self.fault = self.read(), ""
        except (DeviceFault, OSError) as error:
            self.value = None
            self.fault = os_reason(error) if isinstance(error, OSError) else str(error)
        except ValueError:
            what = "0 or 1" if self.config.kind is SenseKind.CONTACT else "number"
            self.value, self.fault = None, f"there is no {what} in it"
        held = channel.present
        if held is None and self.config.kind is not SenseKind.VOLTS:
            held = channel.open_output
        now = None if held is None else (held.relay, channel.is_lit(held))
        if (self.value is None or held is None) and now in (None, self.against):
            return  # nothing speaks against what it said
        difference, self.burns, self.against = "", False, now
        if self.value is not None and held is not None:
            difference, self.burns = _difference(self.config, self.value, channel, held)
        if bool(difference) != bool(self.difference):
            self.since_boot_s = boot_s
        self.difference = difference

    def has_settled(self, boot_s: float) -> bool:
        """Return True if what it says is no passing difference."""
        return not self.difference or boot_s - self.since_boot_s >= SETTLE_S

    def says(self) -> str:
        """Return in a word what it says."""
        if self.value is None:
            return ""
        if self.config.kind is SenseKind.CONTACT:
            return "closed" if self.value == self.config.closed else "open"
        if self.config.kind is SenseKind.VOLTS:
            return plain_number(round(self.value * self.config.volts_per_unit, 3))
        return "lit" if self.value > self.config.lit_above else "dark"


def _difference(
    config: SenseConfig, value: float, channel: ChannelOutput, held: Output
) -> tuple[str, bool]:
    """Return how a sensor differs from what is put out, and whether that means an unplanned lit lamp."""
    if config.kind is SenseKind.CONTACT:
        is_closed = value == config.closed
        if is_closed == held.relay:
            return "", False
        words = (
            "closed, and the relay was opened" if is_closed else "open, and the relay was closed"
        )
        return f"is {words}", is_closed and not channel.is_lit(held)
    if config.kind is SenseKind.LIGHT:
        is_lit = channel.is_lit(held)
        if (value > config.lit_above) == is_lit:
            return "", False
        words = "dark, and should burn" if is_lit else "lit, and should be dark"
        return f"says {plain_number(value)}: the lamp is {words}", not is_lit
    volts, planned = value * config.volts_per_unit, float(channel.path.volts[held.count])
    is_high = volts > max(planned, channel.path.ballast.floor_volts) + config.tolerance_volts
    is_low = held.relay and volts < planned - config.tolerance_volts
    if not (is_high or is_low):
        return "", False
    return f"has {volts:.2f} V, and {planned:.2f} V were put out", False


class Sensors:
    """The sensors of a board.

    Parameters
    ----------
    statuses : mapping of id to sequence of SensorStatus
        Those of each channel that has any.
    alarms, journal : Alarms, Journal
        Where differences and values go.
    """

    def __init__(
        self, statuses: Mapping[str, Sequence[SensorStatus]], alarms: Alarms, journal: Journal
    ) -> None:
        self.statuses, self.alarms, self.journal = statuses, alarms, journal

    def look(self, channels: Mapping[str, ChannelOutput], boot_s: float) -> None:
        """Read all sensors; raise and end alarms."""
        for id, status in self._of(channels):
            status.look(channels[id], boot_s)
            key = f"{status.config.kind} of '{id}'"
            if status.fault:
                text = f"PHO507: the {status.name} of '{id}' can't be read: {status.fault}"
                if self.alarms.set(f"{key} lost", text):
                    self.journal.event(Event.DEVICE_LOST)
            elif self.alarms.clear(f"{key} lost"):
                self.journal.event(Event.DEVICE_BACK)
            if status.difference and status.has_settled(boot_s):
                text = f"PHO513: the {status.name} of '{id}' {status.difference}"
                # What it measures goes up and down: the alarm says what it was at first.
                if not self.alarms.has(key) and self.alarms.set(key, text):
                    self.journal.event(Event.SENSE_DIFFERS)
            elif not status.difference:
                self.alarms.clear(key)

    def _of(self, channels: Mapping[str, ChannelOutput]) -> Iterator[tuple[str, SensorStatus]]:
        for id, statuses in self.statuses.items():
            if id in channels:
                yield from ((id, status) for status in statuses)

    def record(self, channels: Mapping[str, ChannelOutput], unix_s: int) -> None:
        """Write down what all sensors say."""
        for id, status in self._of(channels):
            if status.value is not None:
                self.journal.sensed(sensed_record(unix_s, id, status))

    def are_settled(self, boot_s: float) -> bool:
        """Return True if no sensor has just begun to differ: a lamp that goes off takes a moment."""
        return all(
            status.has_settled(boot_s) for found in self.statuses.values() for status in found
        )

    def burning(self, id: str, boot_s: float | None) -> str:
        """Return what says that a lamp burns although it should be dark; empty if nothing does.

        With a time, what has just begun to differ does not count.
        """
        found = (
            s
            for s in self.statuses.get(id, ())
            if s.burns and (boot_s is None or s.has_settled(boot_s))
        )
        return "; ".join(f"its {status.name} {status.difference}" for status in found)


def sensed_record(unix_s: int, channel: str, status: SensorStatus) -> Record:
    """Return the record of what a sensor says."""
    assert status.value is not None
    return (
        utc_text(unix_s),
        channel,
        status.config.kind,
        plain_number(status.value),
        status.says(),
        status.difference,
    )
