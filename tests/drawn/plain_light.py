"""What a table gives, second by second: written anew from docs/player.md and docs/language.md.

It begins with what the schedule says, not with what an output says of it; only the points of a measured
ballast are taken from `table.json`, because small dips are levelled.
"""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from importlib import resources
from typing import Any

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from tests.drawn.hardware import step_seconds
from tests.drawn.readers import PlainRow

DAY_S = 86_400

#: Volts, levels and codes that differ by less are the same: the last digit of a double.
TINY = 1e-7


class PlainPath:
    """What becomes of the counts of one channel: codes, volts and light.

    Parameters
    ----------
    data : mapping
        The schedule, by the keys of the language.
    channel : str
        The id of the channel.
    points : sequence of (float, float)
        Volts and light [%] of a ballast whose curve comes from a file.
    """

    def __init__(
        self, data: Mapping[str, Any], channel: str, points: Sequence[tuple[float, float]] = ()
    ) -> None:
        self.controller = data["controller"]
        self.channel = data["channels"][channel]
        self.ballast = data["ballasts"][self.channel["ballast"]]
        self.points = points
        emits = self.controller.get("emits", {"unit": "percent", "step": 1})
        self.unit, self.step = emits["unit"], emits["step"]
        self.every_s = emits.get("every_seconds", 1)
        self.rounding = emits.get("rounding", "half-up")
        self.most_volts = min(self.controller.get("port", {}).get("most_volts", 10.0), 10.0)
        self.step_s = step_seconds(self.controller.get("time_step_minutes", 1))

    @cached_property
    def full_code(self) -> int:
        """The top permitted code of the controller."""
        return _full_code(self.controller["converter"], self.most_volts)

    @cached_property
    def top_count(self) -> int:
        """The largest count that gives no more than is permitted on this output."""
        if self.unit == "code":
            top = int(self.full_code // self.step)
        else:
            whole = self.most_volts / 10.0 * (100 if self.unit == "percent" else 10_000)
            top = math.floor(whole / self.step + TINY)
        own = self.channel.get("converter")
        if own is not None:
            most = _full_code(own, self.most_volts)
            while top > 0 and self._codes(np.array([top]))[0] > most:
                top -= 1
        return top

    def _codes(self, counts: Ints) -> Ints:
        if self.unit == "code":
            return counts * int(self.step)
        exact = _code_at(self.controller["converter"], self._level_volts(counts))
        return np.clip(np.floor(np.round(exact, 9) + 0.5), 0, self.full_code).astype(np.int64)

    def _level_volts(self, counts: Ints) -> Floats:
        return counts * float(self.step) / (10 if self.unit == "percent" else 1000)

    @cached_property
    def codes(self) -> Ints:
        """The converter code of each count."""
        return self._codes(np.arange(self.top_count + 1))

    @cached_property
    def volts(self) -> Floats:
        """The volts at the output of this channel for each count. [V]"""
        line = _volts_of(self.channel.get("converter", self.controller["converter"]), self.codes)
        line = np.where(np.abs(line - self.most_volts) < TINY, self.most_volts, line)
        return np.maximum(line, 0.0)

    @cached_property
    def level_percents(self) -> Floats:
        """The level of each count. [% of 10 V]"""
        if self.unit == "code":
            return np.maximum(_volts_of(self.controller["converter"], self.codes), 0.0) * 10
        return self._level_volts(np.arange(self.top_count + 1)) * 10

    @cached_property
    def burning(self) -> Floats:
        """The light of each count with mains, not in standby. [fraction of full]"""
        return self._burning_at(self.volts)

    def _burning_at(self, all_volts: Floats) -> Floats:
        floor, full = self.ballast["floor"]["volts"], self.ballast["full_volts"]
        low, kind = self.ballast["floor"]["light_percent"] / 100, self.ballast["response"]["kind"]
        volts = np.clip(all_volts, floor, full)
        if kind in ("measured", "swept"):
            at = self.points or [
                (p["volts"], p["light_percent"]) for p in self.ballast["response"]["points"]
            ]
            return np.interp(volts, [v for v, _ in at], [light / 100 for _, light in at])
        share = (volts - floor) / (full - floor)
        if kind == "linear":
            return low + (1 - low) * share
        if kind == "square-law":
            return (math.sqrt(low) * (1 - share) + share) ** 2
        return low ** (1 - share)

    def light_of_code(self, code: int) -> float:
        """Return the light of a burning lamp at a code, the top one of its own output at most."""
        own = self.channel.get("converter", self.controller["converter"])
        code = min(code, _full_code(own, self.most_volts))
        volts = np.maximum(_volts_of(own, np.array([code])), 0.0)
        return float(self._burning_at(volts)[0])

    def light(self, counts: Ints, closed: Bools) -> Floats:
        """Return the light of counts beside the relay states of their rows. [fraction of full]"""
        each = np.arange(self.top_count + 1)
        of_count = np.stack([
            self._light(each, np.full(each.shape, is_closed)) for is_closed in (False, True)
        ])  # fmt: skip
        return of_count.ravel()[counts + closed * each.size]

    def _light(self, counts: Ints, closed: Bools) -> Floats:
        is_dark = ~self.has_mains(counts, closed)
        if self.ballast["dark"]["kind"] == "standby":
            is_dark |= (self.volts < self.ballast["dark"]["below_volts"])[counts]
        return np.where(is_dark, 0.0, self.burning[counts])

    def has_mains(self, counts: Ints, closed: Bools) -> Bools:
        """Return whether the ballast has mains at counts beside the relay states of their rows."""
        dark, relay = self.ballast["dark"], self.controller["relay"]
        has = np.ones(counts.shape, dtype=bool)
        if dark["kind"] == "never":
            return has
        if relay["kind"] == "column" and not dark.get("keeps_mains", False):
            has &= closed
        if relay["kind"] == "follows-level":
            has &= (self.level_percents >= relay["on_level_percent"] - 1e-9)[counts]
        return has

    def play(self, rows: Sequence[PlainRow]) -> tuple[Ints, Bools]:
        """Return the count and the relay state of each second of a day (docs/player.md, rules 3 to 5).

        ``relay`` is that of the row, before anything else.
        """
        every = self.every_s
        size = DAY_S // every
        # The last piece goes on into the next day, which is this one.
        counts = np.zeros(2 * size, dtype=np.int64)
        closed = np.ones(2 * size, dtype=bool)
        holds = self.controller["between"] == "hold"
        stays = self.controller["after_last_row"] == "hold"
        last = len(rows) - 1
        stop = size
        for index, row in enumerate(rows):
            following = rows[0] if index == last else rows[index + 1]
            length = following.second - row.second
            length += DAY_S if length <= 0 else 0
            begin, stop = -(-row.second // every), -(-(row.second + length) // every)
            if index == last and stays:
                stop = size
            assert row.count is not None and following.count is not None
            counts[begin:stop] = row.count
            closed[begin:stop] = row.relay != "off"
            change = following.count - row.count
            if change and not holds and not (stays and index == last):
                elapsed = np.arange(begin, stop) * every - row.second
                counts[begin:stop] += self._rounded(change * elapsed, length)
        if stop > size:
            counts[: stop - size], closed[: stop - size] = counts[size:stop], closed[size:stop]
        if stays:
            before = slice(0, -(-rows[0].second // every))
            counts[before], closed[before] = rows[0].count, rows[0].relay != "off"
        return np.repeat(counts[:size], every), np.repeat(closed[:size], every)

    def _rounded(self, product: Ints, length: int) -> Ints:
        if self.rounding == "half-up":
            return (2 * product + length) // (2 * length)
        if self.rounding == "down":
            return product // length
        return np.where(product < 0, -(-product // length), product // length)


def _line(converter: Mapping[str, Any]) -> list[tuple[float, float]]:
    """Return codes and volts between which, and beyond which, the volts of a converter are straight lines."""
    if converter["kind"] == "nominal":
        return [(0, 0.0), (2 ** converter["bits"], converter["full_scale_volts"])]
    return sorted((point["code"], point["volts"]) for point in converter["points"])


def _volts_of(converter: Mapping[str, Any], codes: Ints) -> Floats:
    """Return the volts of codes, below 0 V too where the line goes there. [V]"""
    return _on_lines([c for c, _ in _line(converter)], [v for _, v in _line(converter)], codes)


def _code_at(converter: Mapping[str, Any], volts: Floats) -> Floats:
    """Return the code, with fractions, that gives some volts."""
    return _on_lines([v for _, v in _line(converter)], [c for c, _ in _line(converter)], volts)


def _on_lines(x: Sequence[float], y: Sequence[float], at: Any) -> Floats:
    result = np.full(np.shape(at), np.nan)
    for piece in range(len(x) - 1):
        slope = (y[piece + 1] - y[piece]) / (x[piece + 1] - x[piece])
        here = (at >= x[piece]) if piece else np.ones(np.shape(at), dtype=bool)
        result = np.where(here, y[piece] + (at - x[piece]) * slope, result)
    return result


def _full_code(converter: Mapping[str, Any], most_volts: float) -> int:
    """Return the largest code that gives no more than the most volts."""
    volts = _volts_of(converter, np.arange(2 ** converter["bits"]))
    return int(max(np.flatnonzero(volts <= most_volts + 1e-9), default=0))


def passing_seconds(data: Mapping[str, Any], date: str | None) -> Ints | None:
    """Return the seconds that the controller's clock shows on a date; None for each of them once."""
    if date is None or "place" not in data or data["controller"]["clock"] == "utc":
        return None
    zone = _zone(data["place"]["time_zone"])
    is_standard = data["controller"]["clock"] == "standard"
    day = dt.date.fromisoformat(date)
    middle = int(dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp())

    def offset(unix: int) -> int:
        then = dt.datetime.fromtimestamp(unix, zone)
        found = then.utcoffset() or dt.timedelta()
        return int(
            (found - (then.dst() or dt.timedelta()) if is_standard else found).total_seconds()
        )

    low, high = middle - 15 * 3600, middle + DAY_S + 13 * 3600
    if offset(low) == offset(high):
        return None
    unix = np.arange(low, high)
    left, right = low, high  # the moment of the change, by bisection
    before = offset(low)
    while right - left > 1:
        between = (left + right) // 2
        left, right = (between, right) if offset(between) == before else (left, between)
    local = unix + np.where(unix < right, before, offset(high))
    here = local // DAY_S == middle // DAY_S
    return local[here] % DAY_S if int(here.sum()) != DAY_S else None


@lru_cache(maxsize=64)
def _zone(name: str) -> zoneinfo.ZoneInfo:
    """Return a zone by the package `tzdata`, whatever the machine has."""
    with resources.files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as stream:
        return zoneinfo.ZoneInfo.from_file(stream, key=name)


def longest_run(mask: Bools) -> int:
    """Return the longest run of True on a day that repeats. [s]"""
    if mask.all():
        return int(mask.size)
    rolled = np.roll(mask, -int(np.flatnonzero(~mask)[0]))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], rolled.astype(np.int8), [0]))))
    return int((edges[1::2] - edges[::2]).max(initial=0))
