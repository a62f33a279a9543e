"""What a log shows beside what the table would have done: dose, deviations, gaps, clock, outputs.

The light that was given is judged against the replay within a tolerance in time, so that a record
written a few seconds after a step is no error. A clock that is off is found first and allowed for:
one mistake, one finding.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.compare.clock_drift import ClockOff, find_clock
from photoperiod.compare.expected import Light, Plan, band, date_of_day, light_of
from photoperiod.compare.log_reader import Log, Series
from photoperiod.formats.image import date_of
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import zones
from photoperiod.sky.clock import Clock
from photoperiod.text import hours_text, number_text
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, UMOL_PER_MOL

#: Quantities by which a channel's light is known, the surest first.
BEST = ("count", "converter_code", "volts", "millivolts", "level_percent", "light_percent")

#: What a player writes is put out until the next record; what a meter reads goes on in between.
_PUT_OUT = ("count", "converter_code")

#: An output is stuck if it stays for this long while the plan moves by that much. Our choice.
STUCK_S = SECONDS_PER_HOUR
STUCK_LIGHT = 0.10

#: Light or a relay is off if it is so for this long without a break, light to one side and in so many
#: records: a meter's noise is not. [s] Our choice.
LASTING_S = 600.0
LASTING_RECORDS = 3

#: Volts above what a converter can give, by more than this, come from an open pair. [V] Our choice.
OPEN_PAIR_VOLTS = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is still taken for the same.

    Parameters
    ----------
    light, dose : float
        Deviation of light [fraction of full], and of a day's dose [share].
    time_s, gap_s : float
        How far a record may be early or late, and how long none may come. [s]
    """

    light: float = 0.02
    dose: float = 0.05
    time_s: float = 60.0
    gap_s: float = 600.0


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as planned: a code, its subject (channel or zone), and the fact."""

    code: str
    subject: str
    message: str
    is_warning: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One channel or zone over the log.

    ``given`` and ``planned`` are full-light hours of a channel, or the mol m⁻² of a zone, over the
    seconds that the log covers. ``worst`` is the largest deviation [fraction of full, or of the
    zone's largest PPFD], at ``worst_unix_s``; None of a zone that follows from its channels.
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
class Verdict:
    """All that a log shows; ``clock`` is the controller's, for times that people read."""

    clock: Clock
    first_unix_s: float
    last_unix_s: float
    clock_off_s: float
    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]


def judge(
    table: PlayableTable,
    log: Log,
    clock: Clock,
    limits: Limits,
    only: Sequence[str] = (),
) -> Verdict:
    """Return what a log shows beside a table.

    Parameters
    ----------
    table : PlayableTable
        What was loaded.
    log : Log
        What happened.
    clock : Clock
        The controller's.
    limits : Limits
        What is still the same.
    only : sequence of str
        The channels that the log is to tell of; all if empty.
    """
    plan = Plan(table, clock)
    span = log.span_unix_s
    lights = list(_given(table, log, plan, None))
    off, code, words = find_clock(plan, lights, limits.time_s)
    lights = list(_given(table, log, plan, off))
    findings = [Finding(code, "", words)] if code else []
    judged = []
    for light in lights:
        low, high = band(light.planned, light.unix_s + off.at(light.unix_s), limits.time_s)
        away = np.maximum(np.maximum(low - light.values, light.values - high), 0.0) / light.scale
        meant = np.where(light.values < low, low, high)
        judged.append(_judged(plan, light, limits, off, away))
        findings += _gaps(plan, light, limits, span)
        findings += _stray(plan, light, limits, off, away, meant)
    findings += _relays(plan, log, limits, off)
    findings += _open_pairs(table, log, plan)
    findings += _missing(table, log, only)
    judged += _zones(table, judged)
    findings += _doses(judged, limits)
    findings += _dates(table, plan, log)
    findings += _told(plan, log)
    return Verdict(
        clock=clock,
        first_unix_s=span[0],
        last_unix_s=span[1],
        clock_off_s=float(off.at(np.array([span[1]]))[0]),
        judged=tuple(judged),
        findings=_merged(findings),
    )


def _merged(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings in order: warnings first; what is said of several subjects is said once."""
    by_text: dict[tuple[bool, str, str], list[str]] = {}
    for one in findings:
        by_text.setdefault((not one.is_warning, one.code, one.message), []).append(one.subject)
    return tuple(
        Finding(code, ", ".join(filter(None, subjects)), message, is_warning=not is_note)
        for (is_note, code, message), subjects in sorted(
            by_text.items(), key=lambda item: item[0][:2]
        )
    )


def _given(table: PlayableTable, log: Log, plan: Plan, off: ClockOff | None) -> Iterator[Light]:
    """Yield the light of each channel that the log tells of, and the PPFD of each zone.

    Where no relay is logged it is taken as planned, by a clock that is off by so much; as closed while
    the clock is not known yet.
    """
    for id, path in table.paths.items():
        best = next((log.series[id, q] for q in BEST if (id, q) in log.series), None)
        if best is None:
            continue
        relay_on = _relay_at(log.series.get((id, "relay")), best, plan, id, off)
        yield Light(
            subject=id,
            is_zone=False,
            scale=1.0,
            is_put_out=best.quantity in _PUT_OUT,
            unix_s=best.unix_s,
            values=light_of(path, best.quantity, best.values, relay_on),
            planned=functools.partial(plan.light, id),
        )
    for zone in zones(table):
        series = log.series.get((zone, "ppfd"))
        if series is not None:
            full = sum(table.full_ppfd(zone).values())
            yield Light(
                subject=zone,
                is_zone=True,
                scale=max(full, 1e-9),
                is_put_out=False,
                unix_s=series.unix_s,
                values=series.values,
                planned=functools.partial(plan.ppfd, zone),
            )


def _relay_at(
    relay: Series | None, series: Series, plan: Plan, id: str, off: ClockOff | None
) -> Bools:
    """Return the state of a relay at a series' instants: as logged, else as planned."""
    if relay is not None:
        index = np.searchsorted(relay.unix_s, series.unix_s, side="right") - 1
        return relay.values[np.maximum(index, 0)] > 0.5
    if off is None:
        return np.ones(series.unix_s.shape, dtype=np.bool_)
    return plan.relay_on(id, series.unix_s + off.at(series.unix_s)) > 0


def _judged(plan: Plan, light: Light, limits: Limits, off: ClockOff, away: Floats) -> Judged:
    """Return dose and worst deviation of a light."""
    worst = int(away.argmax())
    lengths = np.diff(light.unix_s)
    covered = lengths <= limits.gap_s
    start = light.unix_s[:-1][covered]
    values = light.values[:-1] if light.is_put_out else 0.5 * (light.values[:-1] + light.values[1:])
    divisor = UMOL_PER_MOL if light.is_zone else SECONDS_PER_HOUR
    given = values[covered] * lengths[covered] / divisor
    wanted = _planned_between(light, start + off.at(start), lengths[covered]) / divisor
    days, _ = plan.local(start)
    return Judged(
        subject=light.subject,
        is_zone=light.is_zone,
        unit="mol m⁻²" if light.is_zone else "full-light hours",
        covered_s=float(lengths[covered].sum()),
        given=float(given.sum()),
        planned=float(wanted.sum()),
        worst=float(away[worst]),
        worst_unix_s=float(light.unix_s[worst]),
        by_date={
            date_of_day(int(day)): (
                float(given[days == day].sum()),
                float(wanted[days == day].sum()),
                float(lengths[covered][days == day].sum()),
            )
            for day in np.unique(days)
        },
    )


def _planned_between(light: Light, start: Floats, lengths: Floats) -> Floats:
    """Return the integral of the replay over stretches, by the middles of ten seconds or so each."""
    result = np.zeros(start.shape)
    least = 0.0
    for most in (SECONDS_PER_MINUTE, 10 * SECONDS_PER_MINUTE, np.inf):
        here = (lengths > least) & (lengths <= most)
        least = most
        if not here.any():
            continue
        steps = max(int(np.ceil(float(lengths[here].max()) / 10)), 1)
        for step in range(steps):
            middle = start[here] + (step + 0.5) / steps * lengths[here]
            result[here] += light.planned(middle) * lengths[here] / steps
    return result


def _gaps(plan: Plan, light: Light, limits: Limits, span: tuple[float, float]) -> Iterator[Finding]:
    """Return where nothing was logged, at the beginning and the end of the log too."""
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
        f" the longest of {hours_text(float(lengths[longest]))} from {_time(plan, instants[longest])}"
        + ("; records that far apart are allowed by --gap-minutes" if nothing else ""),
    )


def _stray(
    plan: Plan, light: Light, limits: Limits, off: ClockOff, away: Floats, meant: Floats
) -> Iterator[Finding]:
    """Return where an output is stuck, else where its light is off and stays so."""
    stuck = _stuck(plan, light, off, limits, away)
    if stuck is not None:
        yield stuck
        return
    lengths = np.append(np.diff(light.unix_s), 0.0)
    counted = np.where(lengths <= limits.gap_s, lengths, 0.0)
    wrong = away > limits.light
    below = light.values < meant
    if not (_lasts(wrong & below, counted) or _lasts(wrong & ~below, counted)):
        return
    worst = int(away.argmax())
    yield Finding(
        "PHO601",
        light.subject,
        f"off by up to {away[worst] * 100:.1f} % of full, at {_time(plan, light.unix_s[worst])}:"
        f" {_amount(light, light.values[worst])} where the table has {_amount(light, meant[worst])}; beyond"
        f" {limits.light * 100:g} % for {hours_text(float(counted[wrong].sum()))} in all",
    )


def _lasts(wrong: Bools, lengths: Floats) -> bool:
    """Return whether something is wrong for long without a break."""
    run, records = 0.0, 0
    for is_wrong, length in zip(wrong.tolist(), lengths.tolist(), strict=True):
        run, records = (run + length, records + 1) if is_wrong else (0.0, 0)
        if run >= LASTING_S and records >= LASTING_RECORDS:
            return True
    return False


def _stuck(plan: Plan, light: Light, off: ClockOff, limits: Limits, away: Floats) -> Finding | None:
    """Return a finding if an output stays still for long while the plan moves away from it.

    Records at the ends of a still stretch may be early or late, so they are left out.
    """
    wanted = light.planned(light.unix_s + off.at(light.unix_s))
    worst: tuple[float, int, int] | None = None
    begin = 0
    values, instants = light.values.tolist(), light.unix_s.tolist()
    for at in range(1, len(values) + 1):
        if at < len(values) and abs(values[at] - values[begin]) <= limits.light * light.scale:
            continue
        length = instants[at - 1] - instants[begin]
        if length >= STUCK_S and (worst is None or length > worst[0]):
            inner = (light.unix_s[begin:at] >= instants[begin] + limits.time_s) & (
                light.unix_s[begin:at] <= instants[at - 1] - limits.time_s
            )
            part = wanted[begin:at][inner]
            moves = part.size > 1 and np.ptp(part) > STUCK_LIGHT * light.scale
            if moves and (away[begin:at][inner] > limits.light).any():
                worst = length, begin, at - 1
        begin = at
    if worst is None:
        return None
    length, begin, end = worst
    part = wanted[begin : end + 1]
    return Finding(
        "PHO606",
        light.subject,
        f"stuck at {_amount(light, values[begin])} for {hours_text(length)} from"
        f" {_time(plan, instants[begin])}, while the table goes from"
        f" {_amount(light, float(part.min()))} to {_amount(light, float(part.max()))}",
    )


def _amount(light: Light, value: float) -> str:
    return f"{value:.1f} µmol m⁻² s⁻¹" if light.is_zone else f"{value * 100:.1f} % light"


def _relays(plan: Plan, log: Log, limits: Limits, off: ClockOff) -> Iterator[Finding]:
    """Return where a relay was not as the table has it, for longer than records may be late."""
    for (id, quantity), series in log.series.items():
        if quantity != "relay" or id not in plan.table.paths:
            continue
        instants = series.unix_s + off.at(series.unix_s)
        low, high = band(functools.partial(plan.relay_on, id), instants, limits.time_s)
        wrong = (series.values < low) | (series.values > high)
        lengths = np.append(np.diff(series.unix_s), 0.0)
        if not _lasts(wrong, np.where(lengths <= limits.gap_s, lengths, 0.0)):
            continue
        first = int(np.flatnonzero(wrong)[0])
        total = float(lengths[wrong & (lengths <= limits.gap_s)].sum())
        state, meant = ("closed", "open") if series.values[first] > 0.5 else ("open", "closed")
        yield Finding(
            "PHO607",
            id,
            f"relay {state} where the table has it {meant}, first at"
            f" {_time(plan, series.unix_s[first])}; otherwise than the table for {hours_text(total)}"
            " in all",
        )


def _open_pairs(table: PlayableTable, log: Log, plan: Plan) -> Iterator[Finding]:
    """Return where volts or counts are above all that the controller can give."""
    for id, path in table.paths.items():
        converter = path.converter
        most = {
            "volts": float(path.volts[-1]) + OPEN_PAIR_VOLTS,
            "millivolts": 1000 * (float(path.volts[-1]) + OPEN_PAIR_VOLTS),
            "count": path.top_count,
            "converter_code": converter.full_code,
        }
        for quantity, limit in most.items():
            series = log.series.get((id, quantity))
            if series is None or series.values.max() <= limit:
                continue
            at = int(series.values.argmax())
            yield Finding(
                "PHO612",
                id,
                f"{number_text(float(series.values[at]))} {quantity} at {_time(plan, series.unix_s[at])},"
                " more than the controller can give: is the pair open (full light), or is it another"
                " quantity?",
            )


def _missing(table: PlayableTable, log: Log, only: Sequence[str]) -> Iterator[Finding]:
    """Return what the log does not tell of, and what the table does not know."""
    has_ppfd = any(quantity == "ppfd" for _, quantity in log.series)
    for id in only or table.channels:
        told = any((id, quantity) in log.series for quantity in BEST)
        if not told and (only or not has_ppfd):
            yield Finding("PHO608", id, "its light is not in the log, so it was not compared")
    known = {*table.channels, *zones(table)}
    for subject in sorted({subject for subject, _ in log.series} - known):
        yield Finding("PHO608", subject, "in the log, but not in the table", is_warning=False)
    for text in log.strange_columns:
        yield Finding("PHO613", "", text, is_warning=False)


def _zones(table: PlayableTable, judged: Sequence[Judged]) -> Iterator[Judged]:
    """Return the dose of each zone all of whose channels the log tells of."""
    by_id = {one.subject: one for one in judged if not one.is_zone}
    measured = {one.subject for one in judged if one.is_zone}
    per_hour = SECONDS_PER_HOUR / UMOL_PER_MOL
    for zone in zones(table):
        full = {id: ppfd * per_hour for id, ppfd in table.full_ppfd(zone).items()}
        if zone in measured or not full or not set(full) <= set(by_id):
            continue
        dates = set.intersection(*(set(by_id[id].by_date) for id in full))
        yield Judged(
            subject=zone,
            is_zone=True,
            unit="mol m⁻²",
            covered_s=min(by_id[id].covered_s for id in full),
            given=sum(by_id[id].given * value for id, value in full.items()),
            planned=sum(by_id[id].planned * value for id, value in full.items()),
            worst=None,
            worst_unix_s=None,
            by_date={
                date: (
                    sum(by_id[id].by_date[date][0] * value for id, value in full.items()),
                    sum(by_id[id].by_date[date][1] * value for id, value in full.items()),
                    min(by_id[id].by_date[date][2] for id in full),
                )
                for date in sorted(dates)
            },
        )


def _doses(judged: Sequence[Judged], limits: Limits) -> Iterator[Finding]:
    if not any(one.covered_s > 0 for one in judged):
        yield Finding("PHO614", "", "nothing of the log could be compared with the table")
    for one in judged:
        if one.planned <= 0:
            continue
        share = one.given / one.planned - 1
        if abs(share) > limits.dose:
            more = "more" if share > 0 else "less"
            yield Finding(
                "PHO602",
                one.subject,
                f"{one.given:.2f} {one.unit} given where the table gives {one.planned:.2f}:"
                f" {abs(share) * 100:.1f} % {more}",
            )


def _dates(table: PlayableTable, plan: Plan, log: Log) -> Iterator[Finding]:
    """Return a note if the log reaches beyond the dates of the table."""
    if table.image.span is None:
        return
    first, last = (date_of(day) for day in table.image.span)
    begin, end = (date_of_day(int(day)) for day in plan.local(np.array(log.span_unix_s))[0])
    if begin < first or end > last:
        yield Finding(
            "PHO605",
            "",
            f"the log is of {begin} to {end}, the table for {first} to {last}; outside, its first or"
            " last table is taken to have gone on",
            is_warning=False,
        )


def _told(plan: Plan, log: Log) -> Iterator[Finding]:
    """Return what the log itself says, and what of it could not be read."""
    for unix_s, event in log.events:
        yield Finding("PHO609", "", f"{_time(plan, unix_s)} {event}", is_warning=False)
    if log.bad_lines:
        lines = ", ".join(map(str, log.bad_lines[:5])) + (", …" if len(log.bad_lines) > 5 else "")
        yield Finding(
            "PHO610", "", f"records that can't be read, in line {lines}", is_warning=False
        )


def _time(plan: Plan, unix_s: float) -> str:
    return time_text(plan.clock, float(unix_s))


def time_text(clock: Clock, unix_s: float) -> str:
    """Return an instant as a clock shows it, with its offset from UTC (RFC 3339)."""
    offset = dt.timedelta(seconds=clock.offset_s(int(unix_s)))
    moment = dt.datetime.fromtimestamp(int(unix_s), dt.timezone(offset))
    return moment.isoformat().replace("+00:00", "Z")
