"""What does each channel do? Light, level and volts of a day, one strip for each channel."""

from __future__ import annotations

from collections.abc import Mapping

from photoperiod.arrays import np
from photoperiod.curves.curve import day_middles
from photoperiod.formats.row_text import SetpointText, setpoint_text
from photoperiod.page.day import relay_is_open
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
    named,
)
from photoperiod.page.scales import Scale, round_top
from photoperiod.page.shown import ShownTable
from photoperiod.page.trace import area_path, by_minute, line_path, points, runs_path
from photoperiod.program.channel_day import ChannelDay, Role
from photoperiod.text import number_text, safe
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_HOUR

#: Of one strip: its name, its curves, the ticks of its rows and its relay, and the room to the next.
NAME, CURVES, BASE, GAP = 15.0, 34.0, 9.0, 8.0
STRIP = NAME + CURVES + BASE + GAP

#: Letters of a channel's name above its strip.
MOST_LETTERS = 26

#: A channel that never gives more has a scale of its own [fraction of full]: moonlight would be a line.
FAINT = 0.1

#: Letters of its name: its scale stands beside it.
FAINT_LETTERS = 19

#: What to know of such a strip.
OWN_SCALE = "A faint channel has a scale of its own, said beside it, and no line of its level."

#: What roles but the plan say of a day.
ROLES = {
    Role.FULL: "burns in, at full",
    Role.DARK: "waits for its burn-in, dark",
    Role.GIVES_WAY: "gives way to burn-in",
}


def strips_figure(
    shown: ShownTable, hatches: Mapping[str, int], step_s: int, *, has_rows: bool = True
) -> Figure:
    """Return the channels of a table, one below the other.

    Parameters
    ----------
    shown : ShownTable
        The table.
    hatches : mapping of channel to int
        The hatch of each channel.
    step_s : int
        The controller's grid of times. [s]
    has_rows : bool
        False to leave out the rows as numbers: nobody may load them.
    """
    shapes: list[Shape] = []
    words: list[Words] = []
    channels = list(shown.table.channels.values())
    for number, c in enumerate(channels):
        more, more_words = _strip(c, number * STRIP, hatches[c.channel.id])
        shapes += more
        words += more_words
    bottom = len(channels) * STRIP - GAP
    axis, axis_words = hours_axis(bottom + 2)
    rows = tuple(_rows(c, step_s, shown.name) for c in channels) if has_rows else ()
    return Figure(
        id=f"{shown.key}-channels",
        title=f"Light and level of each channel over the day, {shown.name}",
        about=" ".join(f"{safe(c.channel.label)}: {_peak(c)}." for c in channels),
        height=bottom + 18,
        shapes=(*shapes, *axis),
        words=(*words, *axis_words),
        heading="Channels, each alone",
        caption=OWN_SCALE if any(_scale_end(c) < 1.0 for c in channels) else "",
        numbers=(*rows, _hourly(channels)),
        has_hours=True,
    )


def _strip(c: ChannelDay, top: float, hatch: int) -> tuple[list[Shape], list[Words]]:
    """Return the strip of a channel."""
    bottom = top + NAME + CURVES
    most = _scale_end(c)
    y = Scale(0.0, most, bottom, top + NAME)
    light = points(by_minute(c.replay.light), HOURS, y)
    level = by_minute(c.path.level_percents[c.replay.counts] / 100)
    plan = np.minimum(by_minute(c.curve.light(day_middles())), 1.0)
    ground = [(LEFT, bottom), (RIGHT, bottom)]
    shapes = [
        line(LEFT, top + NAME, RIGHT, top + NAME, "grid"),
        Shape(area_path(light, ground), f"hatch-{hatch}"),
        Shape(line_path(points(plan, HOURS, y)), "plan"),
        Shape(
            line_path(light),
            "outline thin",
            Reading(f"{safe(c.channel.label)}, light", "%", bottom, 100 * most / CURVES),
        ),
        line(LEFT, bottom, RIGHT, bottom, "axis"),
    ]
    if most == 1.0:
        reading = Reading(f"{safe(c.channel.label)}, level", "%", bottom, 100 / CURVES)
        shapes.insert(2, Shape(line_path(points(level, HOURS, y)), "level", reading))
    rows = (HOURS.at(row.second / SECONDS_PER_HOUR) for row in c.fit.rows)
    shapes.append(marks(rows, bottom, 4, "row"))
    dark = relay_is_open(c)
    if dark.any():
        shapes.append(Shape(runs_path(dark, HOURS, bottom + 5, 4), "open"))
    return shapes, _strip_words(c, top)


def _strip_words(c: ChannelDay, top: float) -> list[Words]:
    bottom = top + NAME + CURVES
    most = _scale_end(c)
    letters, own = (MOST_LETTERS, "") if most == 1.0 else (FAINT_LETTERS, "own scale; ")
    return [
        named(LEFT, top + NAME - 4, c.channel.label, letters),
        Words(RIGHT, top + NAME - 4, f"{own}{_peak_short(c)}", "end"),
        Words(LEFT - 4, top + NAME + 4, number_text(most * 100, 4), "end"),
        Words(LEFT - 4, bottom + 2, "0 %", "end"),
    ]


def _scale_end(c: ChannelDay) -> float:
    """Return where the scale of a strip ends: at full, or for a faint channel just above its most light."""
    wanted = np.minimum(by_minute(c.curve.light(day_middles())), 1.0)
    most = max(float(c.replay.light.max()), float(wanted.max()))
    if not c.replay.light.any() or most > FAINT:
        return 1.0
    return round_top(most)


def _peak_short(c: ChannelDay) -> str:
    """Return the most light of a channel and the volts of it."""
    at = int(c.replay.light.argmax())
    if not c.replay.light[at]:
        return "dark"
    volts = float(c.path.volts[c.replay.counts[at]])
    return f"most {float(c.replay.light[at]) * 100:.1f} % at {volts:.2f} V"


def _peak(c: ChannelDay) -> str:
    """Return the most light of a channel, with level and volts, and what it does beside its plan."""
    at = int(c.replay.light.argmax())
    told = "dark all day"
    if c.replay.light[at]:
        volts = float(c.path.volts[c.replay.counts[at]])
        level = float(c.path.level_percents[c.replay.counts[at]])
        told = (
            f"most light {float(c.replay.light[at]) * 100:.1f} %, at level"
            f" {number_text(level)} %, {volts:.2f} V"
        )
    role = ROLES.get(c.role)
    return f"{told}; it {role}" if role else told


def _rows(c: ChannelDay, step_s: int, dates: str) -> Numbers:
    """Return the rows of a channel's table."""
    rows = [setpoint_text(row, c.path, step_s) for row in c.fit.rows]
    has_relay = any(row.relay for row in rows)
    light = c.path.light(
        np.array([row.count for row in c.fit.rows]),
        np.array([row.relay is not False for row in c.fit.rows]),
    )
    return Numbers(
        caption=f"{safe(c.channel.label)}: rows of the table, {dates}",
        head=(
            "time",
            "level %",
            "volts",
            "code",
            *(("relay",) if has_relay else ()),
            "light %",
        ),
        rows=tuple(
            _row_cells(row, float(given), has_relay=has_relay)
            for row, given in zip(rows, light, strict=True)
        ),
        note=f"Volts are of {number_text(CONTROL_VOLTS_FULL)} V; code is the converter's.",
    )


def _row_cells(row: SetpointText, light: float, *, has_relay: bool) -> tuple[str, ...]:
    relay = (row.relay,) if has_relay else ()
    level = number_text(row.level_percent, 4)
    return (
        row.time,
        level,
        f"{row.volts:.3f}",
        str(row.converter_code),
        *relay,
        f"{light * 100:.2f}",
    )


def _hourly(channels: list[ChannelDay]) -> Numbers:
    """Return light and level of all channels at each hour."""
    rows = []
    for hour in range(24):
        second = hour * SECONDS_PER_HOUR
        cells = [f"{hour:02d}:00"]
        for c in channels:
            level = float(c.path.level_percents[c.replay.counts[second]])
            cells.append(f"{c.replay.light[second] * 100:.1f} / {number_text(level, 1)}")
        rows.append(tuple(cells))
    return Numbers(
        caption="Light % / level % at each hour",
        head=("time", *(safe(c.channel.label) for c in channels)),
        rows=tuple(rows),
    )
