"""Output and relay of one channel: set in the right order, and tried again after a failure.

A relay that opens does so before the converter changes. A relay that closes does so after it, and
only if the converter took its code: a lamp is never switched on at an unknown level.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from photoperiod.board.devices.base import (
    DeviceFault,
    DeviceMismatch,
    OutputDevice,
    RelayDevice,
    Setting,
)
from photoperiod.board.devices.mqtt import MqttDevice
from photoperiod.board.mqtt import NotDelivered
from photoperiod.board.state_store import RememberedOutput
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import os_reason
from photoperiod.formats.image import ChannelImage, Image
from photoperiod.player.reference import Output

#: Pause after a failure of a device, before the next attempt. [s]
RETRY_S = 5.0

#: A level that rises at once by more than this fraction of the top level is a leap. Our choice.
LEAP_FRACTION = 0.02


class SoftStartCause(StrEnum):
    """Why a level must not jump up."""

    START = "start"  # the lamp begins: after the dark, or at a level that is not known
    LEAP = "leap"  # the table, the clock or the machine made a leap


@dataclass(slots=True)
class DeviceStatus:
    """A device, the value it was set to last, and its fault.

    A fault ends when the device has been set again, not when it is merely present: a device on a bus
    that hangs is present all the time.
    """

    device: Any
    value: tuple[Any, ...] | None = None
    fault: str = ""
    is_ready: bool = True
    retry_boot_s: float = 0.0

    @property
    def is_remote(self) -> bool:
        """True if a broker carries the value."""
        return isinstance(self.device, MqttDevice)


class ChannelOutput:
    """The devices of one channel.

    Parameters
    ----------
    id : str
        The channel.
    output, relay : OutputDevice, RelayDevice
        Its devices.
    path : LightPath
        The light path of the channel in the table that is played.
    """

    def __init__(self, id: str, output: OutputDevice, relay: RelayDevice, path: LightPath) -> None:
        self.id, self.path = id, path
        self.output, self.relay = DeviceStatus(output), DeviceStatus(relay)
        self.present: Output | None = None
        self.soft_start_cause: SoftStartCause | None = SoftStartCause.START
        self.soft_start_boot_s: float | None = None
        self.logged_boot_s = -math.inf

    @property
    def devices(self) -> Iterator[tuple[str, DeviceStatus]]:
        """The two devices by name."""
        yield "output", self.output
        yield "relay", self.relay

    @property
    def can_open(self) -> bool:
        """True if something can open the mains of this lamp."""
        return bool(self.relay.device.is_wired or self.output.device.carries_relay)

    @property
    def is_known(self) -> bool:
        """True if the last setting reached both devices, as far as anyone can tell."""
        return all(status.value is not None and not status.fault for _, status in self.devices)

    def is_lit(self, output: Output | None) -> bool:
        """Return True if the lamp burns at an output; False if the output is not known."""
        if output is None:
            return False
        count, relay = np.array([output.count]), np.array([output.relay])
        return bool(self.path.is_lit(count, relay)[0])

    def count_of(self, code: int) -> int:
        """Return the largest count that gives no more than a converter code."""
        return max(int(np.searchsorted(self.path.codes, code, side="right")) - 1, 0)

    def adopt(self, path: LightPath) -> None:
        """Go on with another table: there the present converter code is another count."""
        bits, self.path = self.path.converter.bits, path
        if bits != path.converter.bits:
            self.output.value = None
        if self.present is not None:
            code = self.present.code * 2**path.converter.bits // 2**bits
            self.present = Output(self.count_of(code), code, self.present.relay)

    # ---- beginning

    def begin(self, remembered: RememberedOutput | None) -> None:
        """Prepare the devices without changing what they put out, and find out what that is.

        ``remembered`` is what they were set to a moment ago, for devices that cannot be read back.

        Raises
        ------
        DeviceMismatch
            If a device is not what it should be. Other faults are kept, and tried again.
        """
        code: int | None = self._opened(self.output, self._open_output)
        relay: bool | None = self._opened(self.relay, self._open_relay)
        if remembered is not None:
            code = remembered.code if code is None else code
            follows_output = self.output.device.carries_relay and not self.relay.device.is_wired
            relay = remembered.relay if relay is None or follows_output else relay
        self._note_present(code, relay)

    def _opened(self, status: DeviceStatus, open_it: Callable[[], Any]) -> Any:
        try:
            return open_it()
        except DeviceMismatch:
            raise
        except (DeviceFault, OSError) as error:
            self._fail(status, error, 0.0)
            return None

    def _open_output(self) -> int | None:
        code: int | None = self.output.device.open(self.path.converter)
        return code

    def _open_relay(self) -> bool | None:
        is_closed: bool | None = self.relay.device.open()
        return is_closed

    def _note_present(self, code: int | None, relay: bool | None) -> None:
        self.present = None
        if code is not None and relay is not None and self.output.is_ready:
            self.present = Output(self.count_of(code), code, relay)

    def begin_soft_start(
        self, image: Image, channel: ChannelImage, wanted: Output, boot_s: float
    ) -> None:
        """Begin a soft start if there is a cause and the level would jump up.

        It begins at the present level: its start is set back by the time in which a soft start from
        the dark reaches that level.
        """
        cause, self.soft_start_cause = self.soft_start_cause, None
        duration_s = image.soft_start_minutes * 60
        if cause is None or duration_s == 0:
            return
        since_s = 0
        if self.present is not None and self.is_lit(self.present):
            leap = max(int(image.top_count * LEAP_FRACTION), 1)
            if wanted.count <= self.present.count + leap:
                return
            rise = image.top_count - channel.soft_count
            above = self.present.count - channel.soft_count
            if above > 0 and rise > 0:
                since_s = -(-above * duration_s // rise)  # rounded up: the present level is allowed
        elif cause is SoftStartCause.LEAP and not self.is_lit(wanted):
            return  # dark before and after
        self.soft_start_boot_s = boot_s - since_s

    # ---- setting

    def set(self, wanted: Output, setting: Setting, boot_s: float) -> bool:
        """Set the devices that do not have the wanted value yet; return True if anything changed."""
        output, relay = self.output.device, self.relay.device
        value = (wanted.code, wanted.relay) if output.carries_relay else (wanted.code,)
        before = (self.output.value, self.relay.value)

        def set_level() -> bool:
            return self._set(self.output, value, lambda: output.set(setting), boot_s)

        def switch() -> bool:
            return self._set(self.relay, (wanted.relay,), lambda: relay.set(wanted.relay), boot_s)

        # A lamp goes dark by either device alone, but is lit only with both.
        is_set = set_level() and switch() if wanted.relay else switch() & set_level()
        if is_set:
            self.present = wanted
        return is_set and before != (self.output.value, self.relay.value)

    def _set(
        self,
        status: DeviceStatus,
        value: tuple[Any, ...],
        action: Callable[[], None],
        boot_s: float,
    ) -> bool:
        """Return True if a device has a value, having set it if need be."""
        if not status.is_ready:
            if boot_s >= status.retry_boot_s:
                self._try_again(status, boot_s)
            return False  # first look at what it puts out now; the next step sets it
        if status.value == value:
            return True
        try:
            action()
        except NotDelivered:
            status.value = None
            return False
        except (DeviceFault, OSError) as error:
            self._fail(status, error, boot_s)
            return False
        status.value, status.fault = value, ""
        return True

    def _try_again(self, status: DeviceStatus, boot_s: float) -> None:
        try:
            found = self._open_output() if status is self.output else self._open_relay()
        except (DeviceFault, OSError) as error:
            self._fail(status, error, boot_s)
            return
        status.is_ready = True
        self.soft_start_cause = SoftStartCause.START
        if status is self.output:
            relay = self.relay.value
            self._note_present(int(found) if found is not None else None, bool(relay and relay[0]))
        elif not found:
            self.present = None

    def _fail(self, status: DeviceStatus, error: Exception, boot_s: float) -> None:
        reason = str(error)
        if isinstance(error, OSError):
            reason = os_reason(error)
            if error.filename is not None:
                reason = f"'{error.filename}': {reason}"
        status.fault, status.value = reason, None
        status.is_ready, status.retry_boot_s = False, boot_s + RETRY_S

    def check_present(self, boot_s: float) -> None:
        """Find out whether the devices are still there, even if nothing is to be set."""
        for _, status in self.devices:
            if not status.fault:
                try:
                    status.device.check_present()
                except (DeviceFault, OSError) as error:
                    self._fail(status, error, boot_s)

    def publish_again(self) -> None:
        """Forget what was published, so that it is published again."""
        for _, status in self.devices:
            if status.is_remote:
                status.value = None
