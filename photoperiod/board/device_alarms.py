"""Alarms about outputs and relays, and what is said of lamps that should be dark: only what was seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from photoperiod.board.alarms import Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.sensors import Sensors
from photoperiod.player.reference import Output

#: An alarm about a device that held something else than it was given stays for so long after the last
#: time [s], so that a fight with another program is one alarm. Our choice.
DIFFERENCE_S = 60.0


class DeviceAlarms:
    """Reports devices that are lost, and devices that hold something else than they were given."""

    def __init__(self, alarms: Alarms, journal: Journal) -> None:
        self.alarms, self.journal = alarms, journal

    def check(self, channels: Mapping[str, ChannelOutput], boot_s: float) -> None:
        """Raise and end alarms by what the last step found."""
        for id, channel in channels.items():
            for name, status in channel.devices:
                key = f"{name} of '{id}'"
                if status.fault:
                    text = f"PHO507: the {key} ({status.device.name}) is lost: {status.fault}"
                    if self.alarms.set(key, text):
                        self.journal.event(Event.DEVICE_LOST)
                elif self.alarms.clear(key):
                    self.journal.event(Event.DEVICE_BACK)
                if status.difference or boot_s - status.differed_boot_s < DIFFERENCE_S:
                    text = f"PHO512: the {key} ({status.device.name}) {status.differed}"
                    if self.alarms.set(f"{key} differs", text):
                        self.journal.event(Event.DEVICE_DIFFERS)
                else:
                    self.alarms.clear(f"{key} differs")


def lamps_text(
    channels: Iterable[ChannelOutput],
    wanted: Iterable[Output],
    sensors: Sensors,
    boot_s: float | None = None,
) -> tuple[str, bool]:
    """Return which lamps may burn although they should be dark, and why; and whether all is as it should be.

    A lamp that nothing can switch off is named with its light. With a time, what a sensor has just begun
    to say does not count: a lamp that goes off takes a moment.
    """
    told, is_sure = [], True
    for channel, output in zip(channels, wanted, strict=True):
        is_lit = channel.is_lit(output)
        doubt = channel.doubt(output) or ("" if is_lit else sensors.burning(channel.id, boot_s))
        is_sure &= not doubt
        if doubt:
            unsure = "may have another level" if is_lit else "may burn"
            told.append(f"'{channel.id}' {unsure}: {doubt}")
        elif is_lit:
            told.append(f"'{channel.id}' burns at {100 * channel.light_of(output):.3g} % light")
    return "; ".join(told), is_sure


def let_go_text(channels: Iterable[ChannelOutput]) -> str:
    """Return whose relays nothing drives any more once the player has ended; empty if there are none."""
    names = ", ".join(f"'{channel.id}'" for channel in channels if channel.relay.device.is_let_go)
    return (
        f"now the line of {names} is let go, and a resistor must keep its relay open"
        if names
        else ""
    )
