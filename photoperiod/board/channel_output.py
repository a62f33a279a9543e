"""Output and relay of one channel: set in the right order, and tried again after a failure.

A relay that opens does so before the converter changes. A relay that closes does so after it, and
only if the converter took its code: a lamp is never switched on at an unknown level.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from enum import StrEnum
from typing import Any

import numpy as np

from photoperiod.board.device_status import DeviceStatus
from photoperiod.board.devices.base import (
    DeviceFault,
    DeviceMismatch,
    OutputDevice,
    RelayDevice,
    Setting,
)
from photoperiod.board.mqtt import NotDelivered
from photoperiod.board.state_store import RememberedOutput
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import os_reason
from photoperiod.formats.image import ChannelImage, Image
from photoperiod.player.reference import Output

#: Pause after a failure of a device, before the next attempt. [s]
RETRY_S = 5.0

#: A level that falls by more than this fraction of the top level falls far. Our choice.
FAR_FRACTION = 0.02


class SoftStartCause(StrEnum):
    """Why a level must not jump up."""

    START = "start"  # the lamp begins: after the dark, or at a level that is not known
    LEAP = "leap"  # the table, the clock or the machine made a leap


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
        self._before_outside: Output | None = None
        self._least: Output | None = None
        self.logged_boot_s = -math.inf

    @property
    def devices(self) -> Iterator[tuple[str, DeviceStatus]]:
        """The two devices by name."""
        yield "output", self.output
        yield "relay", self.relay

    @property
    def is_remote(self) -> bool:
        """True if a broker carries its level or its relay: nobody can read back what its lamp does."""
        return self.output.is_remote or self.relay.is_remote

    @property
    def least(self) -> Output | None:
        """The least that its lamp may give; None if that is not known.

        That is what the devices hold, or the darkest that topics were told since the broker last confirmed
        all of it.
        """
        return self._least if self.is_remote else self.present

    @property
    def can_open(self) -> bool:
        """True if something can open the mains of this lamp."""
        return bool(self.relay.device.is_wired or self.output.device.carries_relay)

    @property
    def is_known(self) -> bool:
        """True if the last setting reached both devices, as far as anyone can tell."""
        return all(status.value is not None and not status.fault for _, status in self.devices)

    @property
    def is_told(self) -> bool:
        """True if what both devices hold is known: a log may say it."""
        return self.present is not None and all(
            status.is_ready and not status.fault and (status.value or not status.is_remote)
            for _, status in self.devices
        )

    def is_lit(self, output: Output | None) -> bool:
        """Return True if the lamp burns at an output; False if the output is not known."""
        if output is None:
            return False
        count, relay = np.array([output.count]), np.array([output.relay or not self.can_open])
        return bool(self.path.is_lit(count, relay)[0])

    def falls_far(self, before: Output, wanted: Output) -> bool:
        """Return True if a lamp goes dark from one output to the next, or its level falls far."""
        if not self.is_lit(before):
            return False
        far = max(int(self.path.top_count * FAR_FRACTION), 1)
        return not self.is_lit(wanted) or before.count > wanted.count + far

    def count_of(self, code: int) -> int:
        """Return the largest count that gives no more than a converter code."""
        return max(int(np.searchsorted(self.path.codes, code, side="right")) - 1, 0)

    def light_of(self, output: Output) -> float:
        """Return the light at an output, as a fraction of full."""
        count, relay = np.array([output.count]), np.array([output.relay or not self.can_open])
        return float(self.path.light(count, relay)[0])

    def leap(self) -> None:
        """Note that the level may jump up now, by a table, a clock or a device: then it rises softly."""
        self.soft_start_cause = self.soft_start_cause or SoftStartCause.LEAP

    def adopt(self, path: LightPath) -> None:
        """Go on with another table: there the present converter code is another count."""
        bits, self.path = self.path.converter.bits, path
        if bits != path.converter.bits:
            self.output.value = None
            if self.output.holds is not None:
                self.output.holds = self.output.holds * 2**path.converter.bits // 2**bits
        self._note_present()

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
        self.output.holds, self.relay.holds = code, relay
        self._note_present()
        self._note_least()

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

    def _note_present(self, wanted: Output | None = None) -> None:
        """Note what the devices hold together; a count that has the same code may be given."""
        code, relay = self.output.holds, self.relay.holds
        if not self.can_open:
            relay = True  # whatever it was given: nothing opens the mains
        self.present = None
        if code is not None and relay is not None and self.output.is_ready:
            is_wanted = wanted is not None and wanted.code == code
            count = wanted.count if wanted is not None and is_wanted else self.count_of(code)
            self.present = Output(count, code, relay)

    def _note_least(self) -> None:
        """Note the least that the lamp may give; an answer of the broker settles it."""
        now, before = self.present, self._least
        is_taken = all(one.device.is_taken for _, one in self.devices if one.is_remote)
        if (
            now is None
            or before is None
            or is_taken
            or not self.is_lit(now)
            or (self.is_lit(before) and now.count < before.count)
        ):
            self._least = now

    # ---- reading back

    def look(self, boot_s: float) -> bool:
        """Read the devices back; return True if one holds something else than it was given.

        What it holds is in `present` then, and it is given its value again by the next `set`. If the
        level has to rise for that, it rises softly.
        """
        differs, before = False, self.present
        for _, status in self.devices:
            if not status.is_ready:
                continue
            try:
                found = status.device.read_back()
            except (DeviceFault, OSError) as error:
                self._fail(status, error, boot_s)
                continue
            if found is None:
                continue
            if status.value is None:
                status.holds = found
            elif not status.compare(status.value, found, boot_s):
                status.value, differs = None, True
        if differs or self.present is not None:
            self._note_present(self.present)
        self._note_least()
        self._before_outside = before if differs else None
        if differs:
            self.leap()
        return differs

    def _soft_start_from(self) -> Output | None:
        """Return the output from which light may rise: what something else has just lit brighter is none."""
        found, before = self.present, self._before_outside
        if found is None or before is None or not self.is_lit(found):
            return found
        return before if not self.is_lit(before) or before.count < found.count else found

    def doubt(self, wanted: Output) -> str:
        """Return why it is not sure that the devices hold an output; empty if it is sure.

        Sure is what was written, and read back where the device can tell. An open relay makes dark
        whatever its converter does.
        """
        for name, status in (("relay", self.relay), ("output", self.output)):
            reason = self._doubt(status, wanted.relay if name == "relay" else wanted.code)
            if reason:
                return f"its {name} ({status.device.name}) {reason}"
            if name == "relay" and not wanted.relay and status.device.is_wired:
                return ""
        return ""

    @property
    def open_output(self) -> Output | None:
        """What a lamp has whose relay is surely open, also while its converter is lost; else None."""
        if not self.relay.device.is_wired or self._doubt(self.relay, False):
            return None
        return Output(0, int(self.path.codes[0]), False)

    def _doubt(self, status: DeviceStatus, value: int | bool) -> str:
        if status.fault:
            return f"is lost: {status.fault}"
        if status.difference:
            return status.difference
        if status.value is None or status.value[0] != value:
            return "could not be told"
        if status.is_remote and not status.device.is_taken:
            return "was told, and the broker has not taken it yet"
        return ""

    # ---- soft start

    def begin_soft_start(
        self, image: Image, channel: ChannelImage, wanted: Output, boot_s: float
    ) -> None:
        """Begin a soft start if there is a cause and the level would rise.

        It begins at the present level: its start is set back by the time in which a soft start from
        the dark reaches that level. No rise is too small for one: another may follow within seconds, by
        the next cause or by the table itself.
        """
        cause, self.soft_start_cause = self.soft_start_cause, None
        duration_s = image.soft_start_minutes * 60
        if cause is None or duration_s == 0:
            return
        since_s, begun_from = 0, self._soft_start_from()
        if begun_from is not None and self.is_lit(begun_from):
            if wanted.count <= begun_from.count:
                return
            rise = image.top_count - channel.soft_count
            above = begun_from.count - channel.soft_count
            if above > 0 and rise > 0:
                since_s = -(-above * duration_s // rise)  # rounded up: the present level is allowed
        elif cause is SoftStartCause.LEAP and not self.is_lit(wanted):
            return  # dark before and after
        begun = boot_s - since_s
        if self.soft_start_boot_s is not None:
            begun = max(
                begun, self.soft_start_boot_s
            )  # what lit it brighter meanwhile was not the plan
        self.soft_start_boot_s = begun

    @property
    def is_waiting(self) -> bool:
        """True if the broker has not confirmed what a topic was told: the lamp may be as it was before."""
        told = (one for _, one in self.devices if one.is_remote and one.value is not None)
        return any(one.device.is_waiting for one in told)

    def confirmed(self, wanted: Output) -> Output:
        """Return an output; until the broker has confirmed the last one, none that is brighter.

        A listener behind a slow line would get at once what it should have got step by step. Later the lamp
        rises softly, if it would have to leap.
        """
        present = self.present
        if present is None or wanted.count <= present.count or not self.is_waiting:
            return wanted
        if not (self.is_lit(present) and self.is_lit(wanted)):
            return wanted
        self.leap()
        return present

    # ---- setting

    def set(self, wanted: Output, setting: Setting, boot_s: float, *, again: bool = False) -> bool:
        """Set the devices that do not have the wanted value yet; return True if anything changed.

        Parameters
        ----------
        wanted : Output
            What the lamp shall do.
        setting : Setting
            The same, as devices get it.
        boot_s : float
            Now. [s since the machine started]
        again : bool
            Write whatever the devices were given, and try those that are lost at once.
        """
        output, relay = self.output.device, self.relay.device
        value = (wanted.code, wanted.relay) if output.carries_relay else (wanted.code,)
        before = (self.output.value, self.relay.value)
        is_dark = not self.is_lit(wanted)

        def set_level() -> bool:
            return self._set(
                self.output,
                value,
                lambda: output.write(setting),
                boot_s,
                again=again or (is_dark and self._must_repeat(self.output)),
                may_set_at_once=again and is_dark,
            )

        def switch() -> bool:
            return self._set(
                self.relay,
                (wanted.relay,),
                lambda: relay.write(wanted.relay),
                boot_s,
                again=again or (is_dark and self._must_repeat(self.relay)),
                may_set_at_once=again and is_dark,
            )

        # A lamp goes dark by either device alone, but is lit only with both.
        is_set = set_level() and switch() if wanted.relay else switch() & set_level()
        if not self.relay.is_ready and boot_s >= self.relay.retry_boot_s:
            self._try_again(self.relay, boot_s)  # it may be asked to open at the next step
        self._note_present(wanted)
        self._note_least()
        return is_set and before != (self.output.value, self.relay.value)

    @property
    def repeats(self) -> bool:
        """True if a device can't be read back, so that it is written again and again in the dark."""
        return any(self._must_repeat(status) for _, status in self.devices)

    def _must_repeat(self, status: DeviceStatus) -> bool:
        """Return True for a device that can't tell what it holds: in the dark it is written each time."""
        is_local = not status.is_remote and not self.output.device.carries_relay
        is_wired = status is self.output or self.relay.device.is_wired
        return is_local and is_wired and status.is_ready and not status.can_tell

    def _set(
        self,
        status: DeviceStatus,
        value: tuple[Any, ...],
        action: Callable[[], None],
        boot_s: float,
        *,
        again: bool,
        may_set_at_once: bool,
    ) -> bool:
        """Return True if a device has a value, having written it if need be, and read it back.

        Only what makes dark may be written to a device that has just come back: what it puts out is
        not known.
        """
        if not status.is_ready:
            if again or boot_s >= status.retry_boot_s:
                self._try_again(status, boot_s)
            if not (status.is_ready and may_set_at_once):
                return False  # first look at what it puts out now; the next step sets it
        if status.value == value and not again:
            return True
        try:
            action()
            found = status.device.read_back()
        except NotDelivered:
            status.value = None
            return False
        except (DeviceFault, OSError) as error:
            self._fail(status, error, boot_s)
            return False
        status.fault, status.can_tell = "", found is not None
        is_same = status.compare(value, value[0] if found is None else found, boot_s)
        status.value = value if is_same else None
        if not is_same:
            self.leap()  # it may be stuck, and follow at any moment
        return is_same

    def _try_again(self, status: DeviceStatus, boot_s: float) -> None:
        try:
            found = self._open_output() if status is self.output else self._open_relay()
        except (DeviceFault, OSError) as error:
            self._fail(status, error, boot_s)
            return
        status.is_ready = True
        self.soft_start_cause = SoftStartCause.START
        status.holds = found
        if status is self.output or not found:
            self._note_present()

    def _fail(self, status: DeviceStatus, error: Exception, boot_s: float) -> None:
        reason = str(error)
        if isinstance(error, OSError):
            reason = os_reason(error)
            if error.filename is not None:
                reason = f"'{error.filename}': {reason}"
        status.fault, status.value = reason, None
        status.is_ready, status.retry_boot_s = False, boot_s + RETRY_S

    def publish_again(self) -> None:
        """Forget what was published, so that it is published again, and rise from what is sure.

        What was under way when a line broke did not arrive, or did, and its answer was lost.
        """
        if not self.is_remote:
            return
        least = self._least
        if self.output.is_remote:
            self.output.value = None
            self.output.holds = self.output.holds if least is None else least.code
        if self.relay.is_remote or self.output.device.carries_relay:
            self.relay.value = None
            self.relay.holds = self.relay.holds if least is None else least.relay
        self._note_present(least)
        self.leap()
