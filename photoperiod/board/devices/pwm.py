"""Pulse-width outputs. Sources: Documentation/ABI/testing/sysfs-class-pwm, driver-api/pwm.rst."""

from __future__ import annotations

import errno

from photoperiod.board.config import OutputConfig
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch, Setting
from photoperiod.board.devices.sysfs import Files, require_writable, take
from photoperiod.drive.converter import Converter


class PwmOutput:
    """A pulse-width output (PWM); a filter turns its share of duty into volts."""

    carries_relay = False

    def __init__(self, config: OutputConfig, files: Files) -> None:
        self.config, self.files = config, files
        self.chip = f"class/pwm/pwmchip{config.chip}"
        self.folder = f"{self.chip}/pwm{config.channel}"
        self.name = f"pwmchip{config.chip} channel {config.channel}"
        self.codes = 0
        self._written: tuple[int, int] | None = None  # duty [ns] and its code

    def open(self, converter: Converter) -> int | None:
        """Export the channel, set its period and enable it; a running one keeps its share of duty."""
        self.adapt_to(converter)
        if not self.files.exists(self.folder):
            if not self.files.exists(self.chip):
                raise DeviceFault(f"'{self.chip}' is not there")
            self.files.write(f"{self.chip}/export", str(self.config.channel))
        for name in ("period", "duty_cycle", "enable"):
            require_writable(self.files, f"{self.folder}/{name}")
        take(self.files, f"{self.folder}/duty_cycle")
        runs = self._read("enable") == 1
        period, duty = self._read("period"), self._read("duty_cycle")
        self._set_polarity(runs)
        wanted = self.config.period_ns
        share = duty / period if period else 0.0
        if period > wanted:  # the duty first: the kernel refuses one longer than the period
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

    def adapt_to(self, converter: Converter) -> None:
        """Take codes as shares of 2 to the power of the converter's bits."""
        self._written = None
        self.codes = 2**converter.bits

    def _set_polarity(self, runs: bool) -> None:
        """Set the polarity if the board file names another; the kernel allows it only while off."""
        polarity = self.config.polarity
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
            raise DeviceFault(f"'{self.folder}/{name}' does not hold a number") from error

    def _write(self, name: str, value: int) -> None:
        self.files.write(f"{self.folder}/{name}", str(value))

    def read_back(self) -> int | None:
        """Return the code of the present duty."""
        require_writable(self.files, f"{self.folder}/duty_cycle")
        period, duty = self._read("period"), self._read("duty_cycle")
        if period != self.config.period_ns or self._read("enable") != 1:
            raise DeviceFault("its period was changed, or it was disabled")
        if self._written is not None and duty == self._written[0]:
            return self._written[1]  # a code between two nanoseconds
        return int(duty / period * self.codes + 0.5)

    def write(self, setting: Setting) -> None:
        """Write the duty. Some drivers refuse one within a code of none or all: use none or all."""
        code, period = setting.state.code, self.config.period_ns
        duty = (2 * period * code + self.codes) // (2 * self.codes)
        try:
            self._write("duty_cycle", duty)
        except OSError as error:
            if error.errno != errno.EINVAL or 1 < code < self.codes - 2:
                raise
            duty = 0 if code <= 1 else period
            self._write("duty_cycle", duty)
        self._written = duty, code
