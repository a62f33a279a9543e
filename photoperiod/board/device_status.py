"""What a device was given, what it says that it holds, and its fault."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from photoperiod.board.devices.mqtt import MqttDevice


@dataclass(slots=True)
class DeviceStatus:
    """A device, what it was given, what it says, and its fault.

    A fault ends when the device has been set again, not when it is merely present: a device on a bus
    that hangs is present all the time.

    Parameters
    ----------
    device : OutputDevice or RelayDevice
        The device.
    value : tuple or None
        What it was given last; None if it must be given again.
    holds : int or bool or None
        The code or relay state that it holds: as it says, or as it was given if it can't tell.
    difference : str
        How it differs from what it was given, by its own words; empty if it does not.
    differed, differed_boot_s : str, float
        The last difference, and when it was seen last. [s since the machine started]
    fault : str
        Why it can't be used; empty if it can.
    is_ready : bool
        False from a fault until the device could be opened again.
    can_tell : bool
        True if it could be read back after it was written last.
    retry_boot_s : float
        When it is tried again. [s since the machine started]
    """

    device: Any
    value: tuple[Any, ...] | None = None
    holds: Any = None
    difference: str = ""
    differed: str = ""
    differed_boot_s: float = -math.inf
    fault: str = ""
    is_ready: bool = True
    can_tell: bool = False
    retry_boot_s: float = 0.0

    @property
    def is_remote(self) -> bool:
        """True if a broker carries the value."""
        return isinstance(self.device, MqttDevice)

    def compare(self, value: tuple[Any, ...], found: Any, boot_s: float) -> bool:
        """Note what the device says that it holds; return True if that is what it was given."""
        self.holds, self.difference = found, ""
        if isinstance(found, bool):
            if found != value[0]:
                self.difference = (
                    "is closed, and was opened" if found else "is open, and was closed"
                )
        elif found != value[0]:
            self.difference = f"holds code {found}, and {value[0]} was written"
        if self.difference:
            self.differed, self.differed_boot_s = self.difference, boot_s
        return not self.difference
