"""Outputs: what sets a channel's level. Kernel facts: Documentation/ABI/testing/sysfs-bus-iio and
sysfs-class-pwm, Documentation/driver-api/pwm.rst.
"""  # noqa: D205

from __future__ import annotations

import errno
import json
from dataclasses import dataclass
from typing import Protocol, TextIO

from photoperiod.board.config import OutputPlan
from photoperiod.board.mqtt import Broker
from photoperiod.board.sysfs import DeviceFault, DeviceMismatch, Files, need
from photoperiod.drive.converter import Converter
from photoperiod.player.outputs import OutputState

#: How far the kernel's scale may be off the table's converter at its top code [V]. Our choice:
#: references and resistors of one or two per cent are usual, a wrong gain is off by far more.
SCALE_SLACK_VOLTS = 0.3


@dataclass(frozen=True, slots=True)
class Put:
    """What is put out for a channel, as logs and messages tell it."""

    channel: str
    time: str
    given: OutputState

    def words(self) -> str:
        """Return it in one line for people."""
        g = self.given
        relay = "closed" if g.relay else "open"
        return (
            f"{self.time} {self.channel} count={g.count} code={g.code} volts={g.volts:.4f}"
            f" level_percent={g.level_percent:.2f} relay={relay}"
        )

    def message(self) -> str:
        """Return it as JSON for a broker."""
        g = self.given
        return json.dumps(
            {
                "count": g.count,
                "converter_code": g.code,
                "volts": round(g.volts, 4),
                "level_percent": round(g.level_percent, 4),
                "relay": "on" if g.relay else "off",
            }
        )


class Output(Protocol):
    """What sets a level. Everything raises `DeviceFault` or OSError if the device says no."""

    @property
    def name(self) -> str:
        """What it is called in messages."""

    @property
    def tells_relay(self) -> bool:
        """Whether what it puts out names the relay too."""

    def open(self, converter: Converter) -> int | None:
        """Make it ready without changing its level, and return the code it gives, if that is known."""

    def fit(self, converter: Converter) -> None:
        """Take the codes of another table from now on, or raise `DeviceMismatch` if they don't fit."""

    def look(self) -> None:
        """Raise if it is not there any more."""

    def set(self, put: Put) -> None:
        """Put out a level."""


class LinesOutput:
    """A line for each change, for trying."""

    name = "standard output"
    tells_relay = True

    def __init__(self, stream: TextIO | None) -> None:
        self.stream = stream

    def open(self, converter: Converter) -> int | None:
        """Nothing is known of whoever reads the lines."""
        return None

    def fit(self, converter: Converter) -> None:
        """Whoever gets levels takes them all."""

    def look(self) -> None:
        """It is there."""

    def set(self, put: Put) -> None:
        """Print the line, at once: whoever reads it may sit behind a pipe."""
        if self.stream is None:
            raise DeviceFault("standard output is closed")
        self.stream.write(put.words() + "\n")
        self.stream.flush()


class IioOutput:
    """A converter (DAC) of the kernel's industrial I/O."""

    tells_relay = False
    _folder = "bus/iio/devices"

    def __init__(self, plan: OutputPlan, files: Files) -> None:
        self.plan, self.files = plan, files
        self.name = f"{plan.device} channel {plan.channel}"
        self.file = self.folder = ""
        self._given: int | None = None

    def open(self, converter: Converter) -> int | None:
        """Find the device and hold what the kernel tells of it against the table's converter."""
        self._given = None
        device = self._device()
        file = f"{device}/out_voltage{self.plan.channel}_raw"
        if not self.files.exists(file):
            inputs = any(n.startswith("in_voltage") for n in self.files.names(device))
            what = ", it only measures: no converter (DAC)" if inputs else ""
            raise DeviceFault(f"'{file}' is not there{what}")
        need(self.files, file)
        self.folder = device
        self.fit(converter)
        powerdown = f"{device}/out_voltage{self.plan.channel}_powerdown"
        self.file = file
        if self.files.exists(powerdown) and self.files.read(powerdown) == "1":
            # A stage that is powered down floats: full light on a current-sourcing ballast.
            self.files.write(file, "0")
            self.files.write(powerdown, "0")
            return None
        return self._read()

    def _read(self) -> int | None:
        try:
            return int(self.files.read(self.file))
        except (OSError, ValueError):
            return None  # some converters can't be read back

    def _device(self) -> str:
        """Return the folder of the device, which the file names by itself or by its name or label."""
        plain = f"{self._folder}/{self.plan.device}"
        if self.files.exists(plain):
            return plain
        found = [
            f"{self._folder}/{entry}"
            for entry in self.files.names(self._folder)
            if self.plan.device in self._titles(f"{self._folder}/{entry}")
        ]
        if len(found) > 1:
            raise DeviceMismatch(f"{len(found)} devices are called '{self.plan.device}'")
        if not found:
            raise DeviceFault(f"no device '{self.plan.device}' in '{self._folder}'")
        return found[0]

    def _titles(self, device: str) -> set[str]:
        titles = set()
        for name in ("name", "label"):
            try:
                titles.add(self.files.read(f"{device}/{name}"))
            except OSError:
                continue
        return titles

    def fit(self, converter: Converter) -> None:
        """Raise if scale and gain give other volts than the table's converter. [mV in the kernel]"""
        gain = self.plan.gain
        scale = self._number("scale")
        if gain is None or scale is None:
            return
        offset = self._number("offset") or 0.0
        code = converter.full_code
        volts = (code + offset) * scale / 1000 * gain
        meant = converter.offset_volts + code * converter.volts_per_code
        if abs(volts - meant) > SCALE_SLACK_VOLTS:
            raise DeviceMismatch(
                f"code {code} gives {volts:.2f} V by the kernel's scale {scale:g} mV and the gain"
                f" {gain:g}, but {meant:.2f} V by the table's converter"
            )

    def _number(self, what: str) -> float | None:
        for name in (f"out_voltage{self.plan.channel}_{what}", f"out_voltage_{what}"):
            try:
                return float(self.files.read(f"{self.folder}/{name}"))
            except (OSError, ValueError):
                continue
        return None

    def look(self) -> None:
        """Raise if it is not there any more."""
        need(self.files, self.file)

    def set(self, put: Put) -> None:
        """Write the code. Off is code 0, never a powered-down stage."""
        if self._given is not None and self._read() not in (None, self._given):
            self._given = None
            raise DeviceFault("it gives another code than it was given: it was reset")
        self.files.write(self.file, str(put.given.code))
        self._given = put.given.code


class PwmOutput:
    """A pulse-width output; a filter makes volts of it."""

    tells_relay = False

    def __init__(self, plan: OutputPlan, files: Files) -> None:
        self.plan, self.files = plan, files
        self.chip = f"class/pwm/pwmchip{plan.chip}"
        self.folder = f"{self.chip}/pwm{plan.channel}"
        self.name = f"pwmchip{plan.chip} channel {plan.channel}"
        self.codes = 0

    def open(self, converter: Converter) -> int | None:
        """Make it ready: exported, period, enabled; one that runs already keeps its share of duty."""
        self.fit(converter)
        if not self.files.exists(self.folder):
            if not self.files.exists(self.chip):
                raise DeviceFault(f"'{self.chip}' is not there")
            self.files.write(f"{self.chip}/export", str(self.plan.channel))
        for name in ("period", "duty_cycle", "enable"):
            need(self.files, f"{self.folder}/{name}")
        runs = self._read("enable") == 1
        period, duty = self._read("period"), self._read("duty_cycle")
        self._turn(runs)
        wanted = self.plan.period_ns
        share = duty / period if period else 0.0
        if period > wanted:  # the duty first: it must never be longer than the period
            self._write("duty_cycle", int(share * wanted))
        if period != wanted:
            self._write("period", wanted)
        if not runs:
            self._write("duty_cycle", 0)
            self._write("enable", 1)
            return None  # what a disabled output gave is not known
        if period < wanted:
            self._write("duty_cycle", int(share * wanted))
        return int(share * self.codes + 0.5)

    def fit(self, converter: Converter) -> None:
        """Codes are shares of 2 to the power of the converter's bits."""
        self.codes = 2**converter.bits

    def _turn(self, runs: bool) -> None:
        """Set the polarity if it is asked for and another; the kernel wants the output off for it."""
        polarity = self.plan.polarity
        name = f"{self.folder}/polarity"
        if polarity is None or self.files.read(name) == polarity:
            return
        if runs:
            raise DeviceMismatch(
                f"'{name}' is not {polarity}, and can't be turned while the output runs"
            )
        self.files.write(name, polarity)

    def _read(self, name: str) -> int:
        try:
            return int(self.files.read(f"{self.folder}/{name}"))
        except ValueError as error:
            raise DeviceFault(f"'{self.folder}/{name}' holds no number") from error

    def _write(self, name: str, value: int) -> None:
        self.files.write(f"{self.folder}/{name}", str(value))

    def look(self) -> None:
        """Raise if it is not there any more."""
        need(self.files, f"{self.folder}/duty_cycle")

    def set(self, put: Put) -> None:
        """Write the duty; some drivers refuse one within a step of none or all, which is then meant."""
        code, period = put.given.code, self.plan.period_ns
        try:
            self._write("duty_cycle", (2 * period * code + self.codes) // (2 * self.codes))
        except OSError as error:
            if error.errno != errno.EINVAL or 1 < code < self.codes - 2:
                raise
            self._write("duty_cycle", 0 if code <= 1 else period)


class MqttOutput:
    """A topic of a broker. Whoever listens keeps the last level while the broker is away."""

    tells_relay = True

    def __init__(self, plan: OutputPlan, broker: Broker) -> None:
        self.topic, self.broker = plan.topic, broker
        self.name = f"topic {plan.topic}"

    def open(self, converter: Converter) -> int | None:
        """Nothing is known of whoever listens."""
        return None

    def fit(self, converter: Converter) -> None:
        """Whoever gets levels takes them all."""

    def look(self) -> None:
        """The broker is looked after as a whole."""

    def set(self, put: Put) -> None:
        """Publish the level."""
        self.broker.publish(self.topic, put.message())
