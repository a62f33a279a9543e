"""Relays on pins. Source: Documentation/ABI/obsolete/sysfs-gpio."""

from __future__ import annotations

from photoperiod.board.config import RelayConfig
from photoperiod.board.devices.base import DeviceMismatch
from photoperiod.board.devices.sysfs import Files, require_writable, take


class GpioRelay:
    """A pin through the old sysfs interface, which the kernel calls obsolete but still has."""

    is_wired = True

    def __init__(self, config: RelayConfig, files: Files) -> None:
        self.config, self.files = config, files
        self.name = f"pin {config.number}"
        self.folder = f"class/gpio/gpio{config.number}"
        self.file = f"{self.folder}/value"

    def open(self) -> bool | None:
        """Make the pin an output with the relay open; a pin that is an output already is not touched."""
        if not self.files.exists(self.folder):
            self.files.write("class/gpio/export", str(self.config.number))
        if self._read("active_low") == "1":
            raise DeviceMismatch(
                f"'{self.folder}/active_low' is 1; set it to 0 and say `active_low` in the board file"
            )
        if self._read("direction") != "out":
            self.files.write(
                f"{self.folder}/direction", "high" if self.config.active_low else "low"
            )
        take(self.files, self.file)
        return self.read_back()

    def _read(self, name: str) -> str:
        return self.files.read(f"{self.folder}/{name}")

    def write(self, closed: bool) -> None:
        """Write the value of the pin."""
        self.files.write(self.file, "1" if closed != self.config.active_low else "0")

    def read_back(self) -> bool | None:
        """Return whether the value of the pin closes the relay."""
        require_writable(self.files, self.file)
        return (self._read("value") == "1") != self.config.active_low
