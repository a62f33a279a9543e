"""What does the day look like? The light of a zone as one outline, its channels below it as hatches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from photoperiod.arrays import Bools, Floats, np
from photoperiod.curves.curve import day_middles
from photoperiod.page.figure import (
    HOURS,
    LEFT,
    RIGHT,
    Figure,
    Numbers,
    Reading,
    Shape,
    Words,
    hours_axis,
    line,
    marks,
    sentence,
    value_axis,
)
from photoperiod.page.hatches import by_hatch
from photoperiod.page.scales import Scale, top_of
from photoperiod.page.shown import ShownTable
from photoperiod.page.trace import area_path, by_minute, line_path, points, runs_path
from photoperiod.program.channel_day import ChannelDay, ZoneDay
from photoperiod.text import and_list, clock_text, hours_text, number_text, safe
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Where the light of a picture begins and ends, and what stands below it. [user units]
TOP, BOTTOM = 10.0, 130.0
ROWS_Y, RELAY_Y, RELAY_HEIGHT = BOTTOM + 2, BOTTOM + 9, 6.0
HEIGHT = RELAY_Y + RELAY_HEIGHT + 20

#: A channel's name stands in its hatch where that is so thick, and so wide for each letter. [user units]
THICK, LETTER = 15.0, 5.6

#: Most letters of a name in a hatch.
MOST_LETTERS = 16

#: A channel's name in a table of numbers is cut to so many columns.
ALL_LETTERS = 80


def day_figure(shown: ShownTable, zone: ZoneDay, hatches: Mapping[str, int]) -> Figure:
    """Return the day of a zone by a table.

    Parameters
    ----------
    shown : ShownTable
        The table.
    zone : ZoneDay
        One of its zones.
    hatches : mapping of channel to int
        The hatch of each channel.
    """
    ppfd = zone.ppfd
    plan = plan_ppfd(zone)
    limit = zone.zone.ppfd_max
    most = max(float(ppfd.max()), float(plan.max()))
    shows_limit = limit is not None and limit <= 2.5 * most
    y = Scale(0.0, top_of(most, limit if shows_limit and limit else 0.0), BOTTOM, TOP)
    shapes, words = value_axis(y, 4)
    layers, names = _layers(zone, y, hatches)
    shapes += layers
    if zone.zone.ek_ppfd is not None and zone.zone.ek_ppfd < y.high:
        shapes.append(line(LEFT, y.at(zone.zone.ek_ppfd), RIGHT, y.at(zone.zone.ek_ppfd), "dotted"))
        words.append(Words(RIGHT, y.at(zone.zone.ek_ppfd) - 2, "Ek", "end halo"))
    if shows_limit and limit is not None:
        shapes.append(line(LEFT, y.at(limit), RIGHT, y.at(limit), "limit"))
        words.append(Words(LEFT + 3, y.at(limit) - 2.5, f"limit {number_text(limit)}", "mark halo"))
    shapes.append(Shape(line_path(points(plan, HOURS, y)), "plan"))
    reading = Reading("light", "µmol m⁻² s⁻¹", BOTTOM, y.high / (BOTTOM - TOP))
    shapes.append(Shape(line_path(points(by_minute(ppfd), HOURS, y)), "outline", reading))
    base, base_words = _base(list(shown.table.channels.values()))
    return Figure(
        id=f"{shown.key}-{zone.zone.id}",
        title=f"{safe(zone.zone.label)}: light over the day, {shown.name}",
        about=_about(zone),
        height=HEIGHT,
        shapes=(*shapes, *base),
        words=(*words, *names, *base_words),
        heading=safe(zone.zone.label),
        caption=zone_words(zone),
        numbers=(_hourly(zone, plan, hatches),),
        has_hours=True,
    )


def plan_ppfd(zone: ZoneDay) -> Floats:
    """Return the PPFD of the plan at whole minutes, shape (1441,). [µmol m⁻² s⁻¹]

    It is as wished: of tubes as they were when PPFD was measured, and where no ballast has a floor.
    """
    total = np.zeros(by_minute(np.zeros(SECONDS_PER_DAY)).shape)
    for c, _ in zone.limit_sources:
        wanted = by_minute(c.curve.light(day_middles()))
        total = total + c.channel.limit_ppfd[zone.zone.id] * wanted
    return total


def _layers(zone: ZoneDay, y: Scale, hatches: Mapping[str, int]) -> tuple[list[Shape], list[Words]]:
    """Return the channels of a zone as hatches that stand on each other, and their names in them."""
    shapes, words = [], []
    below = np.zeros(SECONDS_PER_DAY // 60 + 1)
    full_ppfd = {c.channel.id: full for c, full in zone.limit_sources}
    lighting = [c for c, _ in zone.limit_sources if c.lit_seconds]
    for hatch, name, channels in by_hatch(lighting, hatches, MOST_LETTERS):
        light = np.zeros(below.shape)
        for c in channels:
            light = light + by_minute(full_ppfd[c.channel.id] * c.replay.light)
        above = below + light
        d = area_path(points(above, HOURS, y), points(below, HOURS, y))
        shapes.append(Shape(d, f"hatch-{hatch} edge"))
        place = _place_of_name(below, light, y, name)
        if place is not None:
            words.append(place)
        below = above
    return shapes, words


def _place_of_name(below: Floats, light: Floats, y: Scale, name: str) -> Words | None:
    """Return a name in the middle of the thickest part of a hatch, None where it has no room."""
    thick = light / (y.high - y.low) * (y.begin - y.end)
    least = max(THICK, float(thick.max()) * 0.6)
    wide = np.flatnonzero(thick >= least)
    if not wide.size:
        return None
    middle = int(wide[wide.size // 2])
    room = int((thick >= THICK).sum()) / 60 * (RIGHT - LEFT) / 24
    if thick[middle] < THICK or room < LETTER * len(name):
        return None
    height = float(below[middle] + light[middle] / 2)
    return Words(HOURS.at(middle / 60), y.at(height) + 3.5, name, "middle halo")


def _base(channels: Sequence[ChannelDay]) -> tuple[list[Shape], list[Words]]:
    """Return what stands below a day: ticks of the rows, hatches where no relay is closed, the hours."""
    seconds = sorted({row.second for c in channels for row in c.fit.rows})
    shapes = [marks((HOURS.at(s / SECONDS_PER_HOUR) for s in seconds), ROWS_Y, 5, "row")]
    dark = np.all([relay_is_open(c) for c in channels], axis=0)
    if dark.any():
        shapes.append(Shape(runs_path(dark, HOURS, RELAY_Y, RELAY_HEIGHT), "open"))
    axis, words = hours_axis(RELAY_Y + RELAY_HEIGHT + 1)
    return [line(LEFT, BOTTOM, RIGHT, BOTTOM, "axis"), *shapes, *axis], words


def relay_is_open(c: ChannelDay) -> Bools:
    """Return at which seconds the relay of a channel is open, shape (86400,); never where it has none."""
    if c.path.dark_by_row:
        return ~c.replay.relay_on
    if c.path.is_switched_by_level:
        return np.logical_not(c.path.follows_on[c.replay.counts])
    return np.zeros(SECONDS_PER_DAY, dtype=bool)


def zone_words(zone: ZoneDay) -> str:
    """Return the peak, the night and the steepest rise of a zone, in sentences."""
    about = zone.zone
    limit = (
        "no limit is given" if about.ppfd_max is None else f"limit {number_text(about.ppfd_max)}"
    )
    rise = f"Steepest rise {number_text(zone.steepest_rise_per_minute, 1)} a minute"
    if about.ppfd_rise_per_minute_max is not None:
        rise += f" ({number_text(about.ppfd_rise_per_minute_max, 1)} allowed)"
    return sentence(
        (
            f"Peak {number_text(zone.peak_ppfd, 1)} µmol m⁻² s⁻¹ at {clock_text(zone.peak_second // 60 * 60)}"
            f" ({limit}).",
            f"Night {hours_text(zone.night_s)} ({number_text(about.dark_hours_min)} h needed).",
            f"{rise}.",
        )
    )


def _about(zone: ZoneDay) -> str:
    """Return the picture in words, for who can't see it."""
    names = [safe(c.channel.label) for c, _ in zone.limit_sources if c.lit_seconds]
    lit = "" if names else "No channel lights the zone on this day."
    given = f"Light of {and_list(names)}, one on the other." if names else ""
    return sentence((given, lit, zone_words(zone)))


def _hourly(zone: ZoneDay, plan: Floats, hatches: Mapping[str, int]) -> Numbers:
    """Return the light of a zone at each hour: by the table, by the plan, and from each hatch drawn."""
    full_ppfd = {c.channel.id: full for c, full in zone.limit_sources}
    hourly = slice(None, None, SECONDS_PER_HOUR)
    given = [
        (
            name,
            np.sum([full_ppfd[c.channel.id] * c.replay.light[hourly] for c in channels], axis=0),
        )
        for _, name, channels in by_hatch((c for c, _ in zone.limit_sources), hatches, ALL_LETTERS)
    ]
    columns = (zone.ppfd[hourly], plan[::60], *(light for _, light in given))
    rows = tuple(
        (f"{hour:02d}:00", *(f"{column[hour]:.1f}" for column in columns)) for hour in range(24)
    )
    return Numbers(
        caption=f"{safe(zone.zone.label)}: PPFD at each hour, in µmol m⁻² s⁻¹",
        head=("time", "table", "plan", *(name for name, _ in given)),
        rows=rows,
    )
