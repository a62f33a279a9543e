"""One channel's output and relay: set in the right order, tried again when they fail.

A relay that opens does so before its converter changes; one that closes does so after, and only if
the converter took its code: at an unknown level a lamp is not switched on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np

from photoperiod.board.mqtt import NotDelivered
from photoperiod.board.outputs import MqttOutput, Put
from photoperiod.board.outputs import Output as OutputDevice
from photoperiod.board.relays import MqttRelay
from photoperiod.board.relays import Relay as RelayDevice
from photoperiod.board.state_store import Remembered
from photoperiod.board.sysfs import DeviceFault, DeviceMismatch
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import os_reason
from photoperiod.player.reference import Output

#: After a device said no, that long until the next attempt. [s]
RETRY_S = 5.0


class Ease(Enum):
    """Why a level must not jump up: the lamps begin, or what they should give has just leapt."""

    START = "start"
    LEAP = "leap"


@dataclass(slots=True)
class Part:
    """An output or relay device, what it was given, and its fault.

    A fault is over when something could be set again, not when the device is merely there: one on a
    bus that hangs is there all the time.
    """

    device: Any
    given: tuple[Any, ...] | None = None
    fault: str = ""
    is_ready: bool = True
    retry_s: float = 0.0

    @property
    def is_remote(self) -> bool:
        """Whether a broker carries it."""
        return isinstance(self.device, MqttOutput | MqttRelay)


class Line:
    """What carries a channel.

    Parameters
    ----------
    id : str
        The channel.
    output, relay : Output, Relay
        The devices.
    path : LightPath
        Of the table that is played; it may change.
    """

    def __init__(self, id: str, output: OutputDevice, relay: RelayDevice, path: LightPath) -> None:
        self.id, self.path = id, path
        self.output, self.relay = Part(output), Part(relay)
        self.present: Output | None = None
        self.ease: Ease | None = Ease.START
        self.soft_from_s: float | None = None
        self.logged_s = -math.inf

    @property
    def parts(self) -> Iterator[tuple[str, Part]]:
        """Its devices by name."""
        yield "output", self.output
        yield "relay", self.relay

    @property
    def can_open(self) -> bool:
        """Whether anything can open this lamp's mains."""
        return bool(self.relay.device.is_wired or self.output.device.tells_relay)

    @property
    def is_known(self) -> bool:
        """Whether what was put out last reached the devices, as far as anyone can tell."""
        return all(part.given is not None and not part.fault for _, part in self.parts)

    def is_lit(self, output: Output | None) -> bool:
        """Return whether the lamp burns at an output; False if it is not known."""
        if output is None:
            return False
        count, relay = np.array([output.count]), np.array([output.relay])
        return bool(self.path.is_lit(count, relay)[0])

    def count_of(self, code: int) -> int:
        """Return the largest count that gives no more than a code."""
        return max(int(np.searchsorted(self.path.codes, code, side="right")) - 1, 0)

    def adopt(self, path: LightPath) -> None:
        """Go on by another table: the code that is put out is another count there."""
        bits, self.path = self.path.converter.bits, path
        if bits != path.converter.bits:
            self.output.given = None
        if self.present is not None:
            code = self.present.code * 2**path.converter.bits // 2**bits
            self.present = Output(self.count_of(code), code, self.present.relay)

    def begin(self, remembered: Remembered | None) -> None:
        """Make the devices ready without changing what they give, and see what that is.

        ``remembered`` is what they were given a moment ago, for devices that can't be read back.

        Raises
        ------
        DeviceMismatch
            If a device is not what it should be. Other faults are kept, to try again.
        """
        code: int | None = None
        relay: bool | None = None
        try:
            code = self._open_output()
        except DeviceMismatch:
            raise
        except (DeviceFault, OSError) as error:
            self._fail(self.output, error, 0.0)
        try:
            relay = self._open_relay()
        except DeviceMismatch:
            raise
        except (DeviceFault, OSError) as error:
            self._fail(self.relay, error, 0.0)
        if remembered is not None:
            code = remembered.code if code is None else code
            told = self.output.device.tells_relay and not self.relay.device.is_wired
            relay = remembered.relay if relay is None or told else relay
        self._see(code, relay)

    def _open_output(self) -> int | None:
        found: int | None = self.output.device.open(self.path.converter)
        return found

    def _open_relay(self) -> bool | None:
        found: bool | None = self.relay.device.open()
        return found

    def _see(self, code: int | None, relay: bool | None) -> None:
        self.present = None
        if code is not None and relay is not None and self.output.is_ready:
            self.present = Output(self.count_of(code), code, relay)

    def put(self, wanted: Output, put: Put, boot_s: float) -> bool:
        """Give the devices what is wanted, if they have not got it; return True if anything changed."""
        key = (wanted.code, wanted.relay) if self.output.device.tells_relay else (wanted.code,)
        before = (self.output.given, self.relay.given)

        def level() -> bool:
            return self._set(self.output, key, lambda: self.output.device.set(put), boot_s)

        def switch() -> bool:
            device = self.relay.device
            return self._set(self.relay, (wanted.relay,), lambda: device.set(wanted.relay), boot_s)

        is_set = level() and switch() if wanted.relay else switch() & level()
        if is_set:
            self.present = wanted
        return is_set and before != (self.output.given, self.relay.given)

    def _set(
        self, part: Part, key: tuple[Any, ...], action: Callable[[], None], boot_s: float
    ) -> bool:
        """Return whether a part has what it should have, having given it if need be."""
        if not part.is_ready:
            if boot_s >= part.retry_s:
                self._try_again(part, boot_s)
            return False  # what it gives now is looked at first: the next step sets it
        if part.given == key:
            return True
        try:
            action()
        except NotDelivered:
            part.given = None
            return False
        except (DeviceFault, OSError) as error:
            self._fail(part, error, boot_s)
            return False
        part.given, part.fault = key, ""
        return True

    def _try_again(self, part: Part, boot_s: float) -> None:
        try:
            found = self._open_output() if part is self.output else self._open_relay()
        except (DeviceFault, OSError) as error:
            self._fail(part, error, boot_s)
            return
        part.is_ready = True
        self.ease = Ease.START
        if part is self.output:
            relay = self.relay.given
            self._see(int(found) if found is not None else None, bool(relay and relay[0]))
        elif not found:
            self.present = None

    def _fail(self, part: Part, error: Exception, boot_s: float) -> None:
        reason = str(error)
        if isinstance(error, OSError):
            reason = os_reason(error)
            if error.filename is not None:
                reason = f"'{error.filename}': {reason}"
        part.fault, part.given = reason, None
        part.is_ready, part.retry_s = False, boot_s + RETRY_S

    def look(self, boot_s: float) -> None:
        """See whether the devices are still there, though nothing is to be set."""
        for _, part in self.parts:
            if not part.fault:
                try:
                    part.device.look()
                except (DeviceFault, OSError) as error:
                    self._fail(part, error, boot_s)

    def say_again(self) -> None:
        """Forget what a broker was told, so that it is told again."""
        for _, part in self.parts:
            if part.is_remote:
                part.given = None
