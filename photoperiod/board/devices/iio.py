"""Converters of the kernel's industrial I/O. Source: Documentation/ABI/testing/sysfs-bus-iio."""

from __future__ import annotations

from photoperiod.board.config import SCALE_SLACK_VOLTS, OutputConfig
from photoperiod.board.devices.base import DeviceFault, DeviceMismatch, Setting
from photoperiod.board.devices.sysfs import Files, require_writable, take
from photoperiod.drive.converter import Converter


class IioOutput:
    """A digital-to-analogue converter (DAC) of the kernel's industrial I/O (IIO)."""

    carries_relay = False
    _folder = "bus/iio/devices"

    def __init__(self, config: OutputConfig, files: Files) -> None:
        self.config, self.files = config, files
        self.name = f"{config.device} channel {config.channel}"
        self.file = self.folder = ""

    def open(self, converter: Converter) -> int | None:
        """Find the device, compare its scale with the table's converter, and return its code."""
        device = self._device()
        file = f"{device}/out_voltage{self.config.channel}_raw"
        if not self.files.exists(file):
            measures = any(n.startswith("in_voltage") for n in self.files.names(device))
            why = ", it only measures: no converter (DAC)" if measures else ""
            raise DeviceFault(f"'{file}' is not there{why}")
        take(self.files, file)
        self.folder = device
        self.adapt_to(converter)
        powerdown = f"{device}/out_voltage{self.config.channel}_powerdown"
        self.file = file
        if self.files.exists(powerdown) and self.files.read(powerdown) == "1":
            # A stage that is powered down floats, which means full light on a current-sourcing ballast.
            self.files.write(file, "0")
            self.files.write(powerdown, "0")
            return None
        return self.read_back()

    def _device(self) -> str:
        """Return the folder of the device; the board file gives this folder, or a name or label."""
        plain = f"{self._folder}/{self.config.device}"
        if self.files.exists(plain):
            return plain
        found = [
            f"{self._folder}/{entry}"
            for entry in self.files.names(self._folder)
            if self.config.device in self._titles(f"{self._folder}/{entry}")
        ]
        if len(found) > 1:
            raise DeviceMismatch(f"{len(found)} devices are called '{self.config.device}'")
        if not found:
            raise DeviceFault(f"no device '{self.config.device}' in '{self._folder}'")
        return found[0]

    def _titles(self, device: str) -> set[str]:
        titles = set()
        for name in ("name", "label"):
            try:
                titles.add(self.files.read(f"{device}/{name}"))
            except OSError:
                continue
        return titles

    def adapt_to(self, converter: Converter) -> None:
        """Raise if scale [mV in the kernel] and gain give other volts than the table's converter."""
        gain = self.config.gain
        scale = self._number("scale")
        if gain is None or scale is None:
            return
        offset = self._number("offset") or 0.0
        code = converter.full_code
        volts = (code + offset) * scale / 1000 * gain
        wanted = converter.volts_at(code)
        if abs(volts - wanted) > SCALE_SLACK_VOLTS:
            raise DeviceMismatch(
                f"code {code} gives {volts:.2f} V by the kernel's scale {scale:g} mV and the gain"
                f" {gain:g}, but {wanted:.2f} V by the table's converter"
            )

    def _number(self, quantity: str) -> float | None:
        for name in (f"out_voltage{self.config.channel}_{quantity}", f"out_voltage_{quantity}"):
            try:
                return float(self.files.read(f"{self.folder}/{name}"))
            except (OSError, ValueError):
                continue
        return None

    def write(self, setting: Setting) -> None:
        """Write the code. Off is code 0, never a powered-down stage: that would float."""
        self.files.write(self.file, str(setting.state.code))

    def read_back(self) -> int | None:
        """Return the code in the device's file; some converters can't be read back."""
        require_writable(self.files, self.file)
        try:
            return int(self.files.read(self.file))
        except TimeoutError:
            raise  # it hangs
        except (OSError, ValueError):
            return None
