"""What a log covers and what it can't show: gaps, parts of days, missing channels, dates, events."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from photoperiod.compare.deviations import Deviations
from photoperiod.compare.expected import Expected, LoggedLight, date_of_day
from photoperiod.compare.log_model import Log, Quantity
from photoperiod.compare.logged_light import LIGHT_QUANTITIES, judged_series
from photoperiod.compare.model import Finding, Limits
from photoperiod.formats.image import date_of
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import zones
from photoperiod.sky.clock import Clock
from photoperiod.text import and_list, counted, hours_text, number_text
from photoperiod.units import SECONDS_PER_DAY


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


def part_of_day_findings(
    expected: Expected, limits: Limits, span: tuple[float, float]
) -> Iterator[Finding]:
    """Yield PHO603 for a log that is not of whole days, such as one that ends at noon.

    Days may be counted on the controller's clock, on the civil one of its place, or in UTC, by which our
    player begins a new file.
    """
    if limits.is_part_of_day:
        return
    begin, end = (int(at) for at in span)
    clocks = (Clock.utc(), expected.clock, Clock.civil(expected.clock.zone_name))
    shown = [end + c.offset_s(end) - begin - c.offset_s(begin) for c in clocks]
    for length in shown:
        days = max(round(length / SECONDS_PER_DAY), 1)
        if abs(length - days * SECONDS_PER_DAY) <= limits.gap_s:
            return
    missing = -shown[1] % SECONDS_PER_DAY
    yield Finding(
        "PHO603",
        "",
        f"the log begins at {expected.time_text(begin)} and ends at {expected.time_text(end)}: whole days"
        f" would take {hours_text(missing)} more, and what happened then is not known; if you mean a part"
        " of a day, say --part-of-day",
    )


def missing_findings(table: PlayableTable, log: Log, only: Sequence[str]) -> Iterator[Finding]:
    """Yield PHO608 for channels that the log or the table lacks, PHO613 for columns not understood."""
    metered = {subject for subject, quantity in log.series if quantity is Quantity.PPFD}
    for id in only or table.channels:
        is_logged = any((id, quantity) in log.series for quantity in LIGHT_QUANTITIES)
        if not is_logged and (only or not any(id in table.full_ppfd(zone) for zone in metered)):
            yield Finding("PHO608", id, "its light is not in the log, so it was not compared")
    known = {*table.channels, *zones(table)}
    for subject in sorted({subject for subject, _ in log.series} - known):
        yield Finding("PHO608", subject, "in the log, but not in the table", is_warning=False)
    for text in log.near_misses:
        yield Finding("PHO613", "", text, is_warning=False)


def blank_findings(table: PlayableTable, expected: Expected, log: Log) -> Iterator[Finding]:
    """Yield PHO619, a note, for each quantity that was compared where more certain ones are blank."""
    for id in table.channels:
        judged = judged_series(log, id)
        for at, one in enumerate(judged[1:], 1):
            blank = and_list([str(more.quantity) for more in judged[:at]])
            times = " to ".join(
                expected.time_text(unix_s) for unix_s in np.unique(one.unix_s[[0, -1]])
            )
            yield Finding(
                "PHO619",
                id,
                f"{blank} {'is' if at == 1 else 'are'} blank in {counted(one.unix_s.size, 'record')} of"
                f" {times}: there {one.quantity} was compared with the table",
                is_warning=False,
            )


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
    """Yield notes: PHO609 for events in the log, PHO610 for bad records, PHO617 for times in doubt."""
    for unix_s, event in log.events:
        yield Finding("PHO609", "", f"{expected.time_text(unix_s)} {event}", is_warning=False)
    if log.bad_lines:
        lines = ", ".join(map(str, log.bad_lines[:5])) + (", …" if len(log.bad_lines) > 5 else "")
        yield Finding(
            "PHO610", "", f"records that can't be read, in line {lines}", is_warning=False
        )
    if log.times_in_doubt:
        times = ", ".join(log.times_in_doubt[:5]) + (", …" if len(log.times_in_doubt) > 5 else "")
        yield Finding(
            "PHO617",
            "",
            f"{times} comes twice, and the log does not tell which one is meant; the first was taken",
            is_warning=False,
        )


def not_seen(
    table: PlayableTable,
    log: Log,
    lights: Mapping[str, Deviations],
    expected: Expected,
    limits: Limits,
) -> tuple[str, ...]:
    """Return what a log can't show, however well it fits the table."""
    texts = []
    metered = {subject for subject, quantity in log.series if quantity is Quantity.PPFD}
    if not metered & set(zones(table)):
        texts.append("what the lamps gave (the log has no PPFD of a zone)")
    blind = [
        id
        for id, path in table.paths.items()
        if path.dark_by_row
        and id in lights
        and not {(id, Quantity.RELAY), (id, Quantity.LIGHT_PERCENT)} & set(log.series)
    ]
    if blind:
        texts.append(
            f"whether {and_list(blind)} went dark (no relay in the log; it is taken as planned)"
        )
    in_day = [one for one, found in lights.items() if not found.is_dark.any()]
    in_day = [one for one in in_day if _is_ever_dark(table, expected, log, one)]
    if in_day:
        texts.append(f"the darkness of {and_list(in_day)} (no record of it)")
    for zone in sorted(metered & set(zones(table))):
        for id, full in table.full_ppfd(zone).items():
            floor = full * table.paths[id].ballast.floor_light
            if table.paths[id].dark_by_row and floor < limits.dark_ppfd:
                texts.append(
                    f"a relay of {id} that stays closed (its floor gives {zone} {number_text(floor)}"
                    " µmol m⁻² s⁻¹)"
                )
    return tuple(texts)


def _is_ever_dark(table: PlayableTable, expected: Expected, log: Log, subject: str) -> bool:
    """Return whether a table has darkness for a channel or zone on the first dates of a log."""
    begin, end = log.span_unix_s
    end = min(end, begin + 30 * SECONDS_PER_DAY)
    instants = np.arange(begin - SECONDS_PER_DAY, end + SECONDS_PER_DAY, 600.0)
    is_channel = subject in table.paths
    light = expected.light(subject, instants) if is_channel else expected.ppfd(subject, instants)
    return bool((light <= 0).any())
