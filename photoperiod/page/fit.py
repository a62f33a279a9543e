"""How good is the table? Its error over the day, what is proven of it, and what more rows would bring."""

from __future__ import annotations

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
    named,
)
from photoperiod.page.scales import Scale, round_top
from photoperiod.page.shown import ShownTable
from photoperiod.page.trace import area_path, line_path, most_by_minute, points
from photoperiod.program.channel_day import ChannelDay
from photoperiod.setpoints.fit import errors_of
from photoperiod.text import clock_text, number_text, safe

#: Of one strip: the name above it, the curve, and the room to the next. [user units]
NAME, CURVE, GAP = 14.0, 30.0, 8.0
STRIP = NAME + CURVE + GAP

MOST_LETTERS = 24


def fit_figure(shown: ShownTable) -> Figure:
    """Return the errors of the channels of a table over the day, one below the other.

    All have the same scale, so that they can be compared.
    """
    channels = [c for c in shown.table.channels.values() if c.reachable_lit_seconds]
    errors = {c.channel.id: errors_of(c.curve_and_target()[1], c.fit) * 100 for c in channels}
    most = max(
        (max(float(errors[c.channel.id].max()), c.fit.certificate.bound * 100) for c in channels),
        default=0.0,
    )
    shapes: list[Shape] = []
    words: list[Words] = []
    for number, c in enumerate(channels):
        top = number * STRIP + NAME
        y = Scale(0.0, round_top(most), top + CURVE, top)
        curve = points(most_by_minute(errors[c.channel.id]), HOURS, y)
        reading = Reading(f"{safe(c.channel.label)}, error", "%", y.begin, y.high / CURVE)
        shapes += [
            line(LEFT, top, RIGHT, top, "grid"),
            Shape(area_path(curve, [(LEFT, y.begin), (RIGHT, y.begin)]), "error"),
            Shape(line_path(curve), "outline thin", reading),
            line(LEFT, y.begin, RIGHT, y.begin, "axis"),
        ]
        bound = c.fit.certificate.bound * 100
        shapes.append(line(LEFT, y.at(bound), RIGHT, y.at(bound), "bound"))
        words += _words(c, top, y)
    axis, axis_words = hours_axis(len(channels) * STRIP - GAP + 1)
    return Figure(
        id=f"{shown.key}-error",
        title=f"Error of the light of each channel over the day, {shown.name}",
        about="How far the light of the table is from the plan within reach of the ballast, in % of full"
        " light, and as a dashed rule the error below which no table with these rows can be.",
        height=len(channels) * STRIP - GAP + 18,
        shapes=(*shapes, *axis),
        words=(*words, *axis_words),
        numbers=(_numbers(channels, shown.name),),
        has_hours=True,
    )


def _words(c: ChannelDay, top: float, y: Scale) -> list[Words]:
    worst = c.fit.worst_light_error * 100
    return [
        named(LEFT, top - 3.5, c.channel.label, MOST_LETTERS),
        Words(
            RIGHT,
            top - 3.5,
            f"most {number_text(worst)} % at {clock_text(c.fit.worst_second)}",
            "end",
        ),
        Words(LEFT - 4, top + 4, number_text(y.high, 4), "end"),
        Words(LEFT - 4, y.begin + 2, "0 %", "end"),
    ]


def _numbers(channels: list[ChannelDay], dates: str) -> Numbers:
    """Return errors, bounds and rows of the channels."""
    rows = []
    for c in channels:
        proof = c.fit.certificate
        rows.append(
            (
                safe(c.channel.label),
                str(len(c.fit.rows)),
                number_text(c.fit.worst_light_error * 100, 3),
                number_text(proof.error * 100, 3),
                number_text(proof.bound * 100, 3),
                number_text(proof.floor * 100, 3),
                _rows_text(proof.half_rows),
                _rows_text(proof.floor_rows),
            )
        )
    return Numbers(
        caption=f"Errors in % of full light, {dates}",
        head=(
            "channel",
            "rows",
            "worst at any second",
            "worst at samples",
            "no table has less",
            "no number of rows has less",
            "rows that halve it",
            "rows that reach the least",
        ),
        rows=tuple(rows),
    )


def _rows_text(rows: int | None) -> str:
    return "–" if rows is None else str(rows)
