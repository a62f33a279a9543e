"""What every output and relay can do, the setting it is given, and the ways in which it fails."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:  # a process that writes for the player does without numpy
    from photoperiod.drive.converter import Converter
    from photoperiod.player.outputs import OutputState


class DeviceFault(Exception):
    """The device cannot be used at the moment; the text says what happened."""


class DeviceMismatch(DeviceFault):
    """The device is not what the board file or the table says; trying again does not help."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What a channel is set to, and when (UTC, RFC 3339)."""

    channel: str
    time: str
    state: OutputState

    def as_line(self) -> str:
        """Return one line of text for people."""
        state = self.state
        relay = "closed" if state.relay else "open"
        return (
            f"{self.time} {self.channel} count={state.count} code={state.code}"
            f" volts={state.volts:.4f} level_percent={state.level_percent:.2f} relay={relay}"
        )

    def as_json(self) -> str:
        """Return the JSON text that a broker gets."""
        state = self.state
        return json.dumps(
            {
                "count": state.count,
                "converter_code": state.code,
                "volts": round(state.volts, 4),
                "level_percent": round(state.level_percent, 4),
                "relay": "on" if state.relay else "off",
            }
        )


class OutputDevice(Protocol):
    """Sets the level of a channel. Every method raises `DeviceFault` or OSError on failure."""

    @property
    def name(self) -> str:
        """The name in messages."""

    @property
    def carries_relay(self) -> bool:
        """True if the receiver of a setting also learns the state of the relay."""

    def open(self, converter: Converter) -> int | None:
        """Prepare the device without changing its level; return its converter code if known."""

    def adapt_to(self, converter: Converter) -> None:
        """Expect the codes of another table from now on.

        Raises
        ------
        DeviceMismatch
            If the device cannot take these codes.
        """

    def write(self, setting: Setting) -> None:
        """Put out a level, whatever the device puts out already."""

    def read_back(self) -> int | None:
        """Return the converter code that the device says it holds; None if it can't tell."""


class RelayDevice(Protocol):
    """Switches the mains of a lamp. Every method raises `DeviceFault` or OSError on failure."""

    @property
    def name(self) -> str:
        """The name in messages."""

    @property
    def is_wired(self) -> bool:
        """True if there is a relay."""

    @property
    def is_let_go(self) -> bool:
        """True if nothing drives it any more when the player ends."""

    def open(self) -> bool | None:
        """Prepare the device without closing the relay; return whether it is closed, if known."""

    def write(self, closed: bool) -> None:
        """Close or open the relay, whatever it is already."""

    def read_back(self) -> bool | None:
        """Return whether the device says that it is closed; None if it can't tell."""


class NoRelay:
    """No relay: the mains of the lamp is always on, or switched by somebody else."""

    name = "no relay"
    is_wired = False
    is_let_go = False

    def open(self) -> bool | None:
        """Return True: a relay that does not exist counts as closed."""
        return True

    def write(self, closed: bool) -> None:
        """Do nothing: there is no device."""

    def read_back(self) -> bool | None:
        """Return None: there is no device."""
