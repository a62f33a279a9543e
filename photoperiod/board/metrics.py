"""A file of metrics in OpenMetrics text, for those who watch many boards.

Source: "OpenMetrics, a cloud-native, highly scalable metrics protocol" (draft-richih-opsawg-openmetrics-00),
sections 5 and 6: names, units, types, escapes, and the last line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from photoperiod.board.events import PlayerState
from photoperiod.text import plain_number, safe

#: How often the file is written. [s]
EVERY_S = 15.0

_STATES = (PlayerState.RUNNING, PlayerState.HELD, PlayerState.SAFE, PlayerState.STOPPED)


@dataclass(frozen=True, slots=True)
class ChannelMetrics:
    """What a channel's devices hold; None if that is not known.

    Parameters
    ----------
    light : float
        Light as a fraction of full.
    volts : float
        Volts at the pair, by the code. [V]
    is_closed : bool
        Whether the relay is closed.
    """

    light: float
    volts: float
    is_closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """What a player knows at a moment.

    Parameters
    ----------
    state : PlayerState
        What it does.
    is_trusted : bool
        Whether it trusts its clock.
    unix_s : float
        What its clock shows. [Unix seconds]
    channels : mapping of id to ChannelMetrics or None
        What each channel holds.
    alarms : sequence of str
        The keys of the active alarms.
    raised : int
        How many alarms began since the player did.
    steps : int
        How many steps it has made.
    last_day_unix_s : float or None
        The end of the table's last date by UTC; None if it has no dates. [Unix seconds]
    """

    state: PlayerState
    is_trusted: bool
    unix_s: float
    channels: Mapping[str, ChannelMetrics | None]
    alarms: Sequence[str]
    raised: int
    steps: int
    last_day_unix_s: float | None


def render(now: Snapshot) -> bytes:
    """Return the text of the file; a channel that is not known has no sample."""
    return ("\n".join([*_lines(now), "# EOF"]) + "\n").encode()


def _lines(now: Snapshot) -> Iterator[str]:
    yield from _head("photoperiod_state", "stateset", "What the player does.")
    for state in _STATES:
        yield _sample("photoperiod_state", {"photoperiod_state": state}, float(state == now.state))
    yield from _head("photoperiod_clock_trusted", "gauge", "1 if the player trusts its clock.")
    yield _sample("photoperiod_clock_trusted", {}, float(now.is_trusted))
    yield from _head("photoperiod_written_timestamp_seconds", "gauge", "When this was written.")
    yield _sample("photoperiod_written_timestamp_seconds", {}, round(now.unix_s, 3))
    if now.last_day_unix_s is not None:
        name = "photoperiod_table_end_timestamp_seconds"
        yield from _head(name, "gauge", "The end of the last date of the table.")
        yield _sample(name, {}, now.last_day_unix_s)
    for name, help, value_of in (
        ("photoperiod_light_ratio", "Light of a channel, relative to full.", lambda c: c.light),
        ("photoperiod_pair_volts", "Volts of a channel's control pair.", lambda c: c.volts),
        ("photoperiod_relay_closed", "1 if the relay is closed.", lambda c: float(c.is_closed)),
    ):
        yield from _head(name, "gauge", help)
        for id, channel in now.channels.items():
            if channel is not None:
                yield _sample(name, {"channel": id}, value_of(channel))
    yield from _head("photoperiod_alarm", "gauge", "1 for each alarm that is active.")
    for key in now.alarms:
        yield _sample("photoperiod_alarm", {"alarm": key}, 1.0)
    yield from _head("photoperiod_alarms", "counter", "Alarms that began since the player did.")
    yield _sample("photoperiod_alarms_total", {}, float(now.raised))
    yield from _head("photoperiod_steps", "counter", "Steps of the player since it began.")
    yield _sample("photoperiod_steps_total", {}, float(now.steps))


def _head(name: str, kind: str, help: str) -> Iterator[str]:
    yield f"# TYPE {name} {kind}"
    unit = name.rpartition("_")[2]
    if unit in ("ratio", "volts", "seconds"):
        yield f"# UNIT {name} {unit}"
    yield f"# HELP {name} {help}"


def _sample(name: str, labels: Mapping[str, str], value: float) -> str:
    inside = ",".join(f'{key}="{_escaped(text)}"' for key, text in labels.items())
    return (
        f"{name}{{{inside}}} {plain_number(value)}" if inside else f"{name} {plain_number(value)}"
    )


def _escaped(text: str) -> str:
    return safe(text).replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
