"""What a comparison finds: limits, findings, the dose of each channel and zone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from photoperiod.sky.clock import Clock
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The deviations that are still allowed.

    Parameters
    ----------
    light, dose : float
        Deviation of light [fraction of full], and of the dose [ratio].
    time_s, gap_s : float
        How early or late a record or the clock may be, and the longest time without a record. [s]
    dark_ppfd : float
        Below this a zone counts as dark. [µmol m⁻² s⁻¹]
    is_part_of_day : bool
        True if the log need not cover whole days.
    """

    light: float = 0.02
    dose: float = 0.05
    time_s: float = 60.0
    gap_s: float = 600.0
    dark_ppfd: float = NIGHT_PPFD_UMOL_M2_S
    is_part_of_day: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """A deviation, or a note: finding code, subject (channel or zone, may be empty), and message."""

    code: str
    subject: str
    message: str
    is_warning: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The dose and the largest deviation of one channel or zone.

    Parameters
    ----------
    subject : str
        The channel or zone.
    is_zone : bool
        True for a zone.
    unit : str
        ``full-light hours`` for a channel, ``mol m⁻²`` for a zone.
    covered_s : float
        The time that the log covers. [s]
    given, planned : float
        The dose by the log, and by the table for the same seconds.
    worst, worst_unix_s : float or None
        Largest deviation [fraction of full, or of the zone's PPFD at full] and its instant. None for
        a zone whose dose is computed from its channels.
    by_date : mapping of date to (float, float, float)
        Given dose, planned dose and covered time [s] of each date.
    """

    subject: str
    is_zone: bool
    unit: str
    covered_s: float
    given: float
    planned: float
    worst: float | None
    worst_unix_s: float | None
    by_date: Mapping[dt.date, tuple[float, float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A log compared with a table.

    Parameters
    ----------
    clock : Clock
        The controller's clock, for times that people read.
    first_unix_s, last_unix_s : float
        The span of the log. [Unix seconds]
    clock_ahead_s : float
        By how much the clock behind the log is ahead at its end. [s]
    results : tuple of Result
        The channels, then the zones.
    findings : tuple of Finding
        The warnings, then the notes.
    not_seen : tuple of str
        What the log can't show.
    """

    clock: Clock
    first_unix_s: float
    last_unix_s: float
    clock_ahead_s: float
    results: tuple[Result, ...]
    findings: tuple[Finding, ...]
    not_seen: tuple[str, ...] = ()


def time_text(clock: Clock, unix_s: float) -> str:
    """Return an instant as a clock shows it, with its offset from UTC (RFC 3339)."""
    offset = dt.timedelta(seconds=clock.offset_s(int(unix_s)))
    moment = dt.datetime.fromtimestamp(int(unix_s), dt.timezone(offset))
    return moment.isoformat().replace("+00:00", "Z")
