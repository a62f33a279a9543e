"""What a log covers: gaps, missing channels, dates outside the table, events, unreadable records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from photoperiod.compare.expected import Expected, LoggedLight, date_of_day
from photoperiod.compare.log_reader import Log, Quantity
from photoperiod.compare.logged_light import LIGHT_QUANTITIES
from photoperiod.compare.model import Finding, Limits
from photoperiod.formats.image import date_of
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import zones
from photoperiod.text import hours_text


def gap_findings(
    expected: Expected, light: LoggedLight, limits: Limits, span: tuple[float, float]
) -> Iterator[Finding]:
    """Yield PHO603 where nothing is logged for long, also between the ends of the log and a series."""
    instants = np.concatenate(([span[0]], light.unix_s, [span[1]]))
    lengths = np.diff(instants)
    gaps = np.flatnonzero(lengths > limits.gap_s)
    if not gaps.size:
        return
    longest = int(gaps[lengths[gaps].argmax()])
    total = float(lengths[gaps].sum())
    nothing = total >= 0.999 * (span[1] - span[0])
    yield Finding(
        "PHO603",
        light.subject,
        f"nothing logged for {hours_text(total)} in {gaps.size} gap{'s' if gaps.size > 1 else ''},"
        f" the longest of {hours_text(float(lengths[longest]))} from {expected.time_text(instants[longest])}"
        + ("; records that far apart are allowed by --gap-minutes" if nothing else ""),
    )


def missing_findings(table: PlayableTable, log: Log, only: Sequence[str]) -> Iterator[Finding]:
    """Yield PHO608 for channels that the log or the table lacks, PHO613 for columns not understood."""
    has_ppfd = any(quantity is Quantity.PPFD for _, quantity in log.series)
    for id in only or table.channels:
        is_logged = any((id, quantity) in log.series for quantity in LIGHT_QUANTITIES)
        if not is_logged and (only or not has_ppfd):
            yield Finding("PHO608", id, "its light is not in the log, so it was not compared")
    known = {*table.channels, *zones(table)}
    for subject in sorted({subject for subject, _ in log.series} - known):
        yield Finding("PHO608", subject, "in the log, but not in the table", is_warning=False)
    for text in log.near_misses:
        yield Finding("PHO613", "", text, is_warning=False)


def date_findings(table: PlayableTable, expected: Expected, log: Log) -> Iterator[Finding]:
    """Yield PHO605, a note, if the log reaches beyond the dates of the table."""
    if table.image.span is None:
        return
    first, last = (date_of(day) for day in table.image.span)
    begin, end = (date_of_day(int(day)) for day in expected.local(np.array(log.span_unix_s))[0])
    if begin < first or end > last:
        yield Finding(
            "PHO605",
            "",
            f"the log is of {begin} to {end}, the table for {first} to {last}; outside, its first or"
            " last table is taken to have gone on",
            is_warning=False,
        )


def log_findings(expected: Expected, log: Log) -> Iterator[Finding]:
    """Yield PHO609 for the events in the log, PHO610 for records that cannot be read; both notes."""
    for unix_s, event in log.events:
        yield Finding("PHO609", "", f"{expected.time_text(unix_s)} {event}", is_warning=False)
    if log.bad_lines:
        lines = ", ".join(map(str, log.bad_lines[:5])) + (", …" if len(log.bad_lines) > 5 else "")
        yield Finding(
            "PHO610", "", f"records that can't be read, in line {lines}", is_warning=False
        )
