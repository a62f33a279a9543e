"""What a playable table gives: at a moment, or in each second of a day.

The reference player reads the file alone, as a controller does. Nothing here knows the plan.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.formats.image import Image, day_number
from photoperiod.formats.table import PlayableTable
from photoperiod.player.reference import Status, play, play_rows


@dataclass(frozen=True, slots=True)
class OutputState:
    """What one output gives at a moment.

    Parameters
    ----------
    count : int
        Level. [counts]
    level_percent : float
        The same level. [% of 10 V]
    volts : float
        Calibrated volts of the converter code. [V]
    code : int
        Converter code.
    relay : bool
        Whether the relay is closed.
    light : float
        Light of the lamps. [fraction of full]
    """

    count: int
    level_percent: float
    volts: float
    code: int
    relay: bool
    light: float


@dataclass(frozen=True, slots=True)
class PlayedDay:
    """What one channel gives in each second of a day, all of shape (86400,).

    ``counts`` are levels, ``relay_on`` tells whether the relay is closed, ``lit`` whether the lamp
    burns, ``light`` is its light as a fraction of full.
    """

    counts: Ints
    relay_on: Bools
    lit: Bools
    light: Floats


def output_state(path: LightPath, count: int, code: int, relay: bool) -> OutputState:
    """Return what an output gives at a count, with its converter code and relay."""
    counts, closed = np.array([count]), np.array([relay])
    return OutputState(
        count=count,
        level_percent=float(path.level_percents[count]),
        volts=float(path.volts[count]),
        code=code,
        relay=relay,
        light=float(path.light(counts, closed)[0]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerInput:
    """What a player is told beside the moment; see `photoperiod.player.reference.play`.

    ``since_start_s`` is None if the soft start is over. [s]
    """

    clock_valid: bool = True
    stopped: bool = False
    since_start_s: int | None = None


#: A day like any other: the clock is trusted, nobody has stopped the lamps, the soft start is over.
UNDISTURBED = PlayerInput()


def at_moment(
    table: PlayableTable, date: dt.date, second: int, told: PlayerInput = UNDISTURBED
) -> tuple[Status, dict[str, OutputState]]:
    """Return the player's status and the state of every output.

    Parameters
    ----------
    table : PlayableTable
        What is played.
    date, second : date, int
        The moment on the controller's clock; the second counts from midnight.
    told : PlayerInput
        What else the player is told.
    """
    status, outputs = play(
        table.image,
        _day(table.image, date),
        second,
        clock_valid=told.clock_valid,
        stopped=told.stopped,
        since_start_s=told.since_start_s,
    )
    return status, {
        id: output_state(path, out.count, out.code, out.relay)
        for (id, path), out in zip(table.paths.items(), outputs, strict=True)
    }


def on_day(table: PlayableTable, date: dt.date) -> dict[str, PlayedDay]:
    """Return what every channel gives in each second of a date of the controller's clock."""
    sets = table.image.table_on(_day(table.image, date)).sets
    return {id: of_set(table, id, index) for id, index in zip(table.paths, sets, strict=True)}


def of_set(table: PlayableTable, id: str, index: int) -> PlayedDay:
    """Return what a channel gives in each second of a day that plays one of the image's row sets."""
    image, path = table.image, table.paths[id]
    channel = image.channels[table.channels.index(id)]
    counts, relays = play_rows(image, channel, image.sets[index])
    return PlayedDay(
        counts=counts,
        relay_on=relays,
        lit=path.is_lit(counts, relays),
        light=path.light(counts, relays),
    )


def ppfd(table: PlayableTable, light: Mapping[str, Floats | float]) -> dict[str, Floats]:
    """Return the PPFD of every zone from the light of every channel. [µmol m⁻² s⁻¹]

    By ``full_ppfd`` as it was measured; what tubes have lost since is not in an export.
    """
    sources: dict[str, list[tuple[float, Floats]]] = {}
    for id, channel in table.about.channels.items():
        for zone, full in channel.full_ppfd.items():
            sources.setdefault(zone, []).append((full, np.asarray(light[id])))
    return {zone: zone_ppfd(each, np.zeros_like(each[0][1])) for zone, each in sources.items()}


def zones(table: PlayableTable) -> tuple[str, ...]:
    """Return the ids of the zones that channels light."""
    return tuple(ppfd(table, dict.fromkeys(table.paths, 0.0)))


def _day(image: Image, date: dt.date) -> int:
    return day_number(date) if image.span is not None else 0
