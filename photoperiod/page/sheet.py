"""The sheet for whoever looks after the tank for two weeks: what is normal at which hour."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from photoperiod.arrays import np, runs_of_true
from photoperiod.page.figure import (
    HOURS,
    LEFT,
    RIGHT,
    Figure,
    Shape,
    Words,
    hours_axis,
    line,
    named,
)
from photoperiod.page.scales import Scale
from photoperiod.page.shown import dates_text
from photoperiod.page.trace import area_path, by_minute, points
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.loads import load_window
from photoperiod.program.model import Program, Table
from photoperiod.text import and_list, clock_text, counted, number_text, range_text, safe
from photoperiod.units import SECONDS_PER_DAY

#: The sheet is for so many dates.
DATES = 14

#: Of one strip, and how thick full light is. [user units]
STRIP, FULL = 30.0, 12.0

MOST_LETTERS = 28

#: What is not normal, and what to do first. The order is that of the whole project: people, animals, tubes.
#: That dark days harm a reef less than too much light, and that a room with a broken tube is aired and left,
#: is common practice, no source.
NOT_NORMAL = (
    ("Water on or in a lamp, a smell of burning, a crackle, or the residual-current device has tripped.",
     "Touch nothing that is wet. Switch the light off at its main switch or fuse, not at the lamp. Keep"
     " everybody away. Call."),
    ("A tube is broken.",
     "It holds mercury. Switch the light off at its main switch or fuse, keep everybody away, open a window,"
     " leave the room for a quarter of an hour. Call. Take no vacuum cleaner."),
    ("A lamp is lit when it should be dark.",
     "Pull the plug of that lamp with dry hands, or switch it off at its switch. Call. A dark day does less"
     " harm than a night of light."),
    ("A lamp is much brighter than on the day before, at the same hour.",
     "Switch that lamp off at its switch. Call."),
    ("A lamp is dark when it should be lit, or it flickers.",
     "Leave it as it is and write down the time. Call on the same day. A dark day does less harm than too"
     " much light."),
    ("Animals stay closed or turn pale.",
     "Do not change the light. Take a photograph, write down the time, and call."),
)  # fmt: skip

#: What the keeper's stand-in leaves alone.
NEVER_TOUCH = (
    "Ends of lamps, sockets and ballasts: several hundred volts stand there. Never take out or turn a tube.",
    "The thin pair of wires between controller and ballast: treat it like mains.",
    "Controller, its clock, its table (only who is named for loads may change it), and the relays.",
    "Never look into blue light at close range.",
    "Never give more light to make up for a dark day.",
)


@dataclass(frozen=True, slots=True)
class LitTime:
    """When a channel is lit, in words, such as ``09:00 to 21:00``."""

    channel: str
    times: str
    most: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the sheet tells.

    Parameters
    ----------
    dates : str
        For which dates it is.
    clock : str
        Which clock its times are of.
    lit : tuple of LitTime
        When each channel is lit.
    dark : str
        When no lamp is lit, in a sentence.
    changes : str
        What changes within the dates, in a sentence; empty if nothing does.
    loads : tuple of str
        What has to be loaded within the dates after their first one, and when; empty if the controller holds
        all tables.
    figure : Figure
        The light of each channel on the first date.
    """

    dates: str
    clock: str
    lit: tuple[LitTime, ...]
    dark: str
    changes: str
    loads: tuple[str, ...]
    figure: Figure


def sheet_of(program: Program, hatches: Mapping[str, int]) -> Sheet:
    """Return the sheet for the first two weeks of a program."""
    tables = _first_tables(program)
    last = tables[-1].span
    span = None
    if program.span is not None and last is not None:
        end = program.span.first + dt.timedelta(days=DATES - 1)
        span = DateSpan(program.span.first, min(last.last, end))
    runs = [table.span.first for table in program.controller_tables if table.span]
    others = [date for date in runs if span is not None and span.first < date <= span.last]
    changes = ""
    if others:
        changes = (
            "The day changes within these dates; the times below hold for all of them. New table on"
            f" {and_list([str(date) for date in others])}."
        )
    return Sheet(
        dates=dates_text(span),
        clock=f"the controller's clock ({program.schedule.controller.clock} time)",
        lit=tuple(_lit_time(tables, id) for id in program.channels),
        dark=_dark(tables),
        changes=changes,
        loads=_loads(program, others),
        figure=_figure(tables[0], hatches),
    )


def _loads(program: Program, dates: Sequence[dt.date]) -> tuple[str, ...]:
    """Return what has to be loaded on some of the dates, in words with the hours in which nothing is lit."""
    found = []
    for before, load in pairwise(program.loads):
        window = load_window(load[0], before[-1])
        if window is not None and load[0].span is not None and load[0].span.first in dates:
            found.append(f"{counted(len(load), 'table')} {window.words}")
    return tuple(found)


def _first_tables(program: Program) -> list[Table]:
    """Return the tables of the first two weeks."""
    if program.span is None:
        return [program.tables[0]]
    end = program.span.first + dt.timedelta(days=DATES)
    return [table for table in program.tables if table.span and table.span.first < end]


def _lit_time(tables: Sequence[Table], id: str) -> LitTime:
    channels = [table.channels[id] for table in tables]
    runs = [runs_of_true(c.replay.lit, repeats=True) for c in channels]
    peaks = [float(c.replay.light.max()) * 100 for c in channels]
    most = "–" if not max(peaks) else f"{range_text(min(peaks), max(peaks), 0)} %"
    label = safe(channels[0].channel.label)
    if len({len(each) for each in runs}) == 1:
        ranges = [range_of([each[n] for each in runs]) for n in sorted(range(len(runs[0])))]
        return LitTime(label, and_list(ranges) or "dark all day", most)
    each_day = {and_list([range_of([run]) for run in day]) or "dark all day" for day in runs}
    return LitTime(label, " or ".join(sorted(each_day)), most)


def range_of(runs: Sequence[tuple[int, int]]) -> str:
    """Return from when to when something holds: each end a time, or the earliest and the latest."""
    if all(end - begin == SECONDS_PER_DAY for begin, end in runs):
        return "day and night"
    begins, ends = ([run[side] for run in runs] for side in (0, 1))
    return f"{_times(begins).replace('24:00', '00:00')} to {_times(ends)}"  # no day begins at 24:00


def _times(seconds: Sequence[int]) -> str:
    """Return times to the minute: one, or the earliest and the latest."""
    first, last = (_minute(pick(seconds)) for pick in (min, max))
    return first if first == last else f"{first}–{last}"


def _minute(second: int) -> str:
    minute = (second + 30) // 60 * 60
    return clock_text(minute if minute == SECONDS_PER_DAY else minute % SECONDS_PER_DAY)


def _dark(tables: Sequence[Table]) -> str:
    """Return when no lamp is lit on any of the dates."""
    lit = np.any([c.replay.lit for table in tables for c in table.channels.values()], axis=0)
    runs = runs_of_true(~lit, repeats=True)
    if not runs:
        return "Some lamp is lit at any hour."
    return f"All lamps are dark from {and_list([range_of([run]) for run in runs])}."


def _figure(table: Table, hatches: Mapping[str, int]) -> Figure:
    shapes: list[Shape] = []
    words: list[Words] = []
    channels = list(table.channels.values())
    for number, c in enumerate(channels):
        middle = number * STRIP + 22
        shapes += [line(LEFT, middle, RIGHT, middle, "grid"), *_band(c, middle, hatches)]
        words.append(named(LEFT, number * STRIP + 12, c.channel.label, MOST_LETTERS))
        most = float(c.replay.light.max()) * 100
        text = number_text(most, 0) if most >= 1 else f"{most:.1g}"
        words.append(Words(RIGHT, number * STRIP + 12, f"most {text} %", "end"))
    axis, axis_words = hours_axis(len(channels) * STRIP + 3)
    return Figure(
        id="sheet-day",
        title="When each lamp is lit",
        about="A strip for each channel over the hours of the day, thickest where that lamp is brightest.",
        height=len(channels) * STRIP + 20,
        shapes=(*shapes, *axis),
        words=(*words, *axis_words),
        caption="Each strip is thickest where its own lamp is brightest, at the percent beside its name.",
    )


def _band(c: ChannelDay, middle: float, hatches: Mapping[str, int]) -> list[Shape]:
    """Return a strip as thick as the light beside the channel's own most."""
    light = by_minute(c.replay.light)
    most = float(light.max())
    if not most:
        return []
    upper = points(light, HOURS, Scale(0.0, most, middle, middle - FULL / 2))
    lower = points(light, HOURS, Scale(0.0, most, middle, middle + FULL / 2))
    return [Shape(area_path(upper, lower), f"hatch-{hatches[c.channel.id]} edge")]
