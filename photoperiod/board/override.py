"""A level by hand for some minutes: work light, a photograph, dark for a while. It ends by itself.

`photoperiod override` writes a file into the player's folder, and the player follows it. No channel gets more
light than today's table gives it at most, and no zone more than its most today: what the schedule's limits
allow is in the table, and nothing else is known on a board.
"""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.disk import Disk, Entry
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.system import System
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import os_reason
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import on_day, ppfd
from photoperiod.player.reference import Output, open_output
from photoperiod.text import and_list, utc_text

FORMAT = "photoperiod-override"

#: The longest override; more is a change of the schedule [min]. Our choice.
MOST_MINUTES = 480

#: No file of an override is larger. [bytes]
MAX_BYTES = 2**16

#: Clocks of two runs of the machine may differ by this much. [s]
SLACK_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """What a person wants of some channels for some time.

    Parameters
    ----------
    boot_id, from_boot_s : str, float
        The run of the machine in which it began, and when. [s since the machine started]
    from_unix_s : float
        The same by the clock, for a machine that was started again meanwhile. [Unix seconds]
    minutes : int
        How long it lasts.
    light_percent : mapping of id to float
        The light of each channel, relative to full; 0 for dark.
    why : str
        The reason, for people.
    """

    boot_id: str
    from_boot_s: float
    from_unix_s: float
    minutes: int
    light_percent: Mapping[str, float]
    why: str = ""

    def is_over(self, system: System, *, is_trusted: bool) -> bool:
        """Return True if its time is over; in another run of the machine the clock decides."""
        length_s = 60 * self.minutes
        if system.boot_id and self.boot_id == system.boot_id:
            return not 0 <= system.boot_s() - self.from_boot_s < length_s
        since_s = system.unix_s() - self.from_unix_s
        return is_trusted and not -SLACK_S <= since_s < length_s

    def told(self) -> str:
        """Return in words what it is."""
        what = ", ".join(f"'{id}' {light:g} %" for id, light in self.light_percent.items())
        until = utc_text(int(self.from_unix_s + 60 * self.minutes))
        return f"light by hand: {what} until {until}" + (f" ({self.why})" if self.why else "")


def override_file(folder: Path) -> Path:
    """Return the file of an override in the state folder of a player."""
    return folder / "override.json"


def as_json(override: Override) -> bytes:
    """Return the bytes of the file of an override."""
    data = {
        "format": FORMAT,
        "version": 1,
        "boot_id": override.boot_id,
        "from_boot_s": override.from_boot_s,
        "from_unix_s": override.from_unix_s,
        "minutes": override.minutes,
        "light_percent": dict(override.light_percent),
        "why": override.why,
    }
    return json.dumps(data, indent=2).encode() + b"\n"


def of_json(raw: bytes) -> Override:
    """Return the override in the bytes of its file.

    Raises
    ------
    ValueError
        If it is none.
    """
    try:
        data: Any = json.loads(raw)
        if data["format"] != FORMAT or data["version"] != 1:
            raise ValueError("another format or version")
        override = Override(
            boot_id=str(data["boot_id"]),
            from_boot_s=float(data["from_boot_s"]),
            from_unix_s=float(data["from_unix_s"]),
            minutes=int(data["minutes"]),
            light_percent={str(id): float(x) for id, x in data["light_percent"].items()},
            why=str(data["why"]),
        )
    except (KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise ValueError("it does not hold what an override holds") from error
    numbers = [override.from_boot_s, override.from_unix_s, *override.light_percent.values()]
    if not all(map(math.isfinite, numbers)) or not 0 < override.minutes <= MOST_MINUTES:
        raise ValueError("a number in it is out of range")
    if not all(0 <= light <= 100 for light in override.light_percent.values()):
        raise ValueError("light is 0 to 100 %")
    return override


class Overriding:
    """The override that a player follows, if there is one.

    Parameters
    ----------
    folder : Path
        The state folder.
    disk, system : Disk, System
        What reads the file, and tells the time.
    alarms, journal : Alarms, Journal
        Where it is reported.
    say : callable
        Shows people one line of text.
    """

    def __init__(
        self,
        folder: Path,
        disk: Disk,
        system: System,
        alarms: Alarms,
        journal: Journal,
        say: Callable[[str], None],
    ) -> None:
        self._file, self._disk, self._system = override_file(folder), disk, system
        self._alarms, self._journal, self._say = alarms, journal, say
        self._looked: Entry | None = None
        self._read: Override | None = None
        self._limits: tuple[PlayableTable, dt.date, Limits] | None = None
        self._unknown: tuple[str, ...] = ()
        self.active: Override | None = None

    def notice(self, *, is_trusted: bool) -> bool:
        """Begin or end an override; return True if levels may leap."""
        self._read_file()
        before, now = self.active, self._read
        if now is not None and now.is_over(self._system, is_trusted=is_trusted):
            self._read = now = None
            self._remove_file()
        self.active = now
        if now == before:
            return False
        if now is not None:
            self._alarms.set(AlarmKey.OVERRIDE, now.told())
            self._journal.event(Event.OVERRIDE)
        elif before is not None:
            self._alarms.clear(AlarmKey.OVERRIDE)
            self._journal.event(Event.OVERRIDE_OVER)
        return True

    def _read_file(self) -> None:
        """Read the file if it is another one; while the disk can't tell, what was read goes on."""
        try:
            found = self._disk.look(self._file)
            if found == self._looked:
                return
            self._looked = found
            self._read = None if found is None else of_json(self._disk.read(self._file, MAX_BYTES))
        except OSError:
            return
        except ValueError as error:
            self._read = None
            self._say(f"'{self._file}' is no override: {error}")

    def _remove_file(self) -> None:
        try:
            self._disk.remove(self._file)
        except FileNotFoundError:
            return
        except OSError as error:  # its time is over all the same
            self._say(f"can't remove '{self._file}': {os_reason(error)}")

    def apply(
        self,
        table: PlayableTable,
        date: dt.date,
        channels: Mapping[str, ChannelOutput],
        planned: Mapping[str, Output],
    ) -> dict[str, Output]:
        """Return the outputs with those that a person wants, within what today's table gives at most."""
        if self.active is None:
            return dict(planned)
        self._tell_unknown(tuple(id for id in self.active.light_percent if id not in planned))
        if self._limits is None or self._limits[:2] != (table, date):
            self._limits = table, date, limits_of(table, date)
        wanted = {
            id: light / 100 for id, light in self.active.light_percent.items() if id in planned
        }
        allowed = limited(table, self._limits[2], channels, planned, wanted)
        return dict(planned) | {
            id: output_for(table, id, channels[id], light) for id, light in allowed.items()
        }

    def _tell_unknown(self, unknown: tuple[str, ...]) -> None:
        """Say once which channels are not in the table; a board file with `other_channels` can't tell."""
        if unknown and unknown != self._unknown:
            names = and_list([f"'{id}'" for id in unknown])
            self._say(f"light by hand: the table has no channel {names}; nothing changes there")
        self._unknown = unknown


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that a table gives on a day: light of channels [fraction of full], PPFD of zones."""

    light: Mapping[str, float]
    ppfd_umol_m2_s: Mapping[str, float]


def limits_of(table: PlayableTable, date: dt.date) -> Limits:
    """Return the most that a table gives on a date of the controller's clock."""
    lights = {id: played.light for id, played in on_day(table, date).items()}
    return Limits(
        light={id: float(light.max()) for id, light in lights.items()},
        ppfd_umol_m2_s={zone: float(sum.max()) for zone, sum in ppfd(table, lights).items()},
    )


def limited(
    table: PlayableTable,
    limits: Limits,
    channels: Mapping[str, ChannelOutput],
    planned: Mapping[str, Output],
    wanted: Mapping[str, float],
) -> dict[str, float]:
    """Return the light that channels may get by hand, as fractions of full.

    If a zone would get more than its most together with the other channels at this moment, all lights by
    hand are made less by one factor.
    """
    lights = {id: min(light, limits.light[id]) for id, light in wanted.items()}
    others = {
        id: 0.0 if id in lights else channels[id].light_of(output) for id, output in planned.items()
    }
    by_plan, by_hand = ppfd(table, others), ppfd(table, dict.fromkeys(planned, 0.0) | lights)
    factor = min(
        (
            max(most - float(by_plan[zone]), 0.0) / float(by_hand[zone])
            for zone, most in limits.ppfd_umol_m2_s.items()
            if float(by_hand[zone]) > 0
        ),
        default=1.0,
    )
    return {id: light * min(factor, 1.0) for id, light in lights.items()}


def output_for(table: PlayableTable, id: str, channel: ChannelOutput, light: float) -> Output:
    """Return the output of a channel that gives no more than a light; dark if that is below its floor."""
    image, path = table.image, table.paths[id]
    about = image.channels[table.channels.index(id)]
    count = _count_for(path, light, image.top_count)
    if count < 0 or about.snap_from <= count < about.snap_to:
        count = -1  # a standby ballast must not be held where its light is not defined
    output = Output(max(count, 0), image.code_of(max(count, 0)), True)
    if count < 0 or not channel.is_lit(output):
        return open_output(image) if channel.can_open else Output(0, image.code_of(0), True)
    return output


def _count_for(path: LightPath, light: float, top_count: int) -> int:
    """Return the largest count that gives no more than a light while the relay is closed; −1 if none does."""
    counts = np.arange(top_count + 1)
    lights = path.light(counts, np.full(counts.shape, True))
    return int(np.searchsorted(lights, light * (1 + 1e-9), side="right")) - 1
