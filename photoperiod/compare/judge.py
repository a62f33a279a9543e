"""What a log shows beside what the table would have done: dose, deviations, gaps, clock, outputs.

The light that was given is judged against the replay within a tolerance in time, so that a record
written a few seconds after a step is no error. A clock that is off is found first and allowed for:
one mistake, one finding.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from photoperiod.compare.log import Log, Series
from photoperiod.exported import Exported
from photoperiod.played import of_set, zones
from photoperiod.player.image import FIRST_DAY, date_of
from photoperiod.sky.clock import Clock
from photoperiod.table.path import LightPath
from photoperiod.units import (
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
    UMOL_PER_MOL,
    hours_text,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Singles = NDArray[np.float32]

_EPOCH = dt.date(1970, 1, 1)

#: Quantities by which a channel's light is known, the surest first.
_BEST = ("count", "converter_code", "volts", "millivolts", "level_percent", "light_percent")

#: What a player writes is put out until the next record; what a meter reads goes on in between.
_PUT_OUT = ("count", "converter_code")

#: How far a clock may be looked for [s], and how finely.
_NEAR_S, _FAR_S = 7_200, 43_200

#: A drift is looked for around a shift within this [s], on at least so many dates and at most so many,
#: evenly chosen; with no more points of a series than this.
_DRIFT_S = 900
DRIFT_DATES = 3
MOST_DRIFT_DATES = 40
MOST_POINTS = 2_000

#: A clock is off if shifting it leaves less than this share of the deviation. Our choice, no source.
CLOCK_SHARE = 0.5

#: An output is stuck if it stays for this long while the plan moves by that much. Our choice.
STUCK_S = SECONDS_PER_HOUR
STUCK_LIGHT = 0.10
STILL_LIGHT = 0.002


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
    zone's largest PPFD], at ``worst_unix_s``.
    """

    subject: str
    unit: str
    covered_s: float
    given: float
    planned: float
    worst: float
    worst_unix_s: float
    by_date: Mapping[dt.date, tuple[float, float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """All that a log shows."""

    first_unix_s: float
    last_unix_s: float
    clock_off_s: float
    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]


#: What is planned at some instants.
Planned = Callable[[Floats], Floats]


class _Plan:
    """The replay at instants: light and relay of channels, PPFD of zones.

    Each set of rows is played once, so that a log of a year asks for no more than its tables.
    """

    def __init__(self, table: Exported, clock: Clock) -> None:
        self.table, self.clock = table, clock
        self._first_days = np.array([each.first_day for each in table.image.tables])
        self._known: dict[str, tuple[Ints, Singles, Bools]] = {}

    def local(self, unix_s: Floats) -> tuple[Ints, Ints]:
        """Return the day (from 1970) and the second of the day of instants."""
        whole = np.floor(unix_s).astype(np.int64)
        shown = whole + self.clock.offsets_s(whole)
        return shown // SECONDS_PER_DAY, shown % SECONDS_PER_DAY

    def light(self, id: str, unix_s: Floats) -> Floats:
        """Return the light of a channel at instants. [fraction of full]"""
        of_table, light, _ = self._played(id)
        index, second = self._where(unix_s)
        return light[of_table[index], second].astype(np.float64)

    def relay_on(self, id: str, unix_s: Floats) -> Floats:
        """Return 1 where the relay of a channel is closed at instants, else 0."""
        of_table, _, relay_on = self._played(id)
        index, second = self._where(unix_s)
        return relay_on[of_table[index], second].astype(np.float64)

    def ppfd(self, zone: str, unix_s: Floats) -> Floats:
        """Return the PPFD of a zone at instants. [µmol m⁻² s⁻¹]"""
        total = np.zeros(unix_s.shape)
        for id, channel in self.table.about["channels"].items():
            if channel["full_ppfd"].get(zone):
                total += channel["full_ppfd"][zone] * self.light(id, unix_s)
        return total

    def _where(self, unix_s: Floats) -> tuple[Ints, Ints]:
        """Return which table is played at instants, and the second of its day."""
        days, seconds = self.local(unix_s)
        from_2000 = days - (FIRST_DAY - _EPOCH).days
        index = np.searchsorted(self._first_days, from_2000, side="right") - 1
        if self.table.image.span is None:
            index = np.zeros_like(index)
        return np.maximum(index, 0), seconds

    def _played(self, id: str) -> tuple[Ints, Singles, Bools]:
        """Return which of a channel's days each table has, and light and relay of those days."""
        if id not in self._known:
            at = self.table.channels.index(id)
            sets = [each.sets[at] for each in self.table.image.tables]
            own, of_table = np.unique(sets, return_inverse=True)
            days = [of_set(self.table, id, int(index)) for index in own]
            self._known[id] = (
                of_table.reshape(-1).astype(np.int64),
                np.stack([day.light.astype(np.float32) for day in days]),
                np.stack([day.relay_on for day in days]),
            )
        return self._known[id]


def _band(planned: Planned, unix_s: Floats, reach_s: float) -> tuple[Floats, Floats]:
    """Return the least and the largest of what is planned within some seconds of instants."""
    low = high = planned(unix_s)
    for shift in np.unique(np.round(np.linspace(-reach_s, reach_s, 13))):
        value = planned(unix_s + shift)
        low, high = np.minimum(low, value), np.maximum(high, value)
    return low, high


def _date(day: int) -> dt.date:
    return _EPOCH + dt.timedelta(days=day)


def light_of(path: LightPath, quantity: str, values: Floats, relay_on: Bools) -> Floats:
    """Return the light that values of a quantity give. [fraction of full]

    Volts are those at the control pair, so that a converter that strays shows.
    """
    if quantity == "light_percent":
        return values / 100
    if quantity == "count":
        return path.light(np.clip(values, 0, path.top_count).astype(np.int64), relay_on)
    volts = values / 1000
    if quantity == "converter_code":
        volts = path.converter.volts(values.astype(np.int64))
    elif quantity == "volts":
        volts = values
    elif quantity == "level_percent":
        volts = values / 10
    lit = relay_on.copy() if path.dark_by_row else np.ones(volts.shape, dtype=np.bool_)
    if path.ballast.dark == "standby":
        lit &= volts >= path.ballast.standby_volts
    if path.is_switched_by_level:
        lit &= volts >= path.relay.on_level_percent / 10
    return np.where(lit, path.ballast.light_at(volts), 0.0)


def judge(table: Exported, log: Log, clock: Clock, limits: Limits) -> Verdict:
    """Return what a log shows beside a table.

    Parameters
    ----------
    table : Exported
        What was loaded.
    log : Log
        What happened.
    clock : Clock
        The controller's.
    limits : Limits
        What is still the same.
    """
    plan = _Plan(table, clock)
    given = dict(_given(table, log, plan))
    off, findings = _clock(plan, given, limits)
    judged = []
    for series in given.values():
        one, found = _judge_one(plan, series, limits, off)
        judged.append(one)
        findings += found
    findings += _relays(plan, log, limits, off)
    findings += _missing(table, log)
    judged += _zones(table, judged)
    findings += _doses(judged, limits)
    findings += _dates(table, plan, log)
    findings += [
        Finding("L609", "", f"{_time(unix_s)} {event}", is_warning=False)
        for unix_s, event in log.events
    ]
    if log.bad_lines:
        lines = ", ".join(map(str, log.bad_lines[:5])) + (", …" if len(log.bad_lines) > 5 else "")
        findings.append(
            Finding("L610", "", f"records that can't be read, in line {lines}", is_warning=False)
        )
    first, last = log.span_unix_s
    return Verdict(
        first_unix_s=first,
        last_unix_s=last,
        clock_off_s=float(off.at(np.array([last]))[0]),
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


@dataclass(frozen=True, slots=True)
class _Light:
    """Light of a channel, or PPFD of a zone, as logged; and the same of the replay."""

    subject: str
    unit: str
    scale: float
    is_put_out: bool
    unix_s: Floats
    values: Floats
    planned: Planned


def _given(table: Exported, log: Log, plan: _Plan) -> Iterator[tuple[str, _Light]]:
    """Return the light of each channel that the log tells of, and the PPFD of each zone."""
    for id, path in table.paths.items():
        best = next((log.series[id, q] for q in _BEST if (id, q) in log.series), None)
        if best is None:
            continue
        relay_on = _relay_at(log.series.get((id, "relay")), best, plan, id)
        light = light_of(path, best.quantity, best.values, relay_on)
        yield (
            id,
            _Light(
                id,
                "full-light hours",
                1.0,
                best.quantity in _PUT_OUT,
                best.unix_s,
                light,
                functools.partial(plan.light, id),
            ),
        )
    for (subject, quantity), series in log.series.items():
        if quantity == "ppfd":
            full = sum(
                channel["full_ppfd"].get(subject, 0.0)
                for channel in table.about["channels"].values()
            )
            yield subject, _Light(
                subject, "mol m⁻²", max(full, 1e-9), False, series.unix_s, series.values,
                functools.partial(plan.ppfd, subject),
            )  # fmt: skip


def _relay_at(relay: Series | None, series: Series, plan: _Plan, id: str) -> Bools:
    """Return the state of a relay at a series' instants: as logged, else as planned."""
    if relay is None:
        return plan.relay_on(id, series.unix_s) > 0
    index = np.searchsorted(relay.unix_s, series.unix_s, side="right") - 1
    return relay.values[np.maximum(index, 0)] > 0.5


@dataclass(frozen=True, slots=True)
class _ClockOff:
    """By how much the clock behind a log is ahead [s]: at an instant, and how that grows [s/s]."""

    off_s: float = 0.0
    at_unix_s: float = 0.0
    per_s: float = 0.0

    def at(self, unix_s: Floats) -> Floats:
        """Return it at instants. [s]"""
        return self.off_s + (unix_s - self.at_unix_s) * self.per_s


def _clock(
    plan: _Plan, given: Mapping[str, _Light], limits: Limits
) -> tuple[_ClockOff, list[Finding]]:
    """Return by how much the clock that wrote the log is ahead, and what there is to say of it."""
    moving = [
        _thinned(one) for one in given.values() if np.ptp(one.values) > STUCK_LIGHT * one.scale
    ]
    if not moving:
        return _ClockOff(), []
    coarse = sorted({*range(-_FAR_S, _FAR_S + 1, 1800), *range(-_NEAR_S, _NEAR_S + 1, 60)})
    off_s = _best_shift(moving, coarse)
    if abs(off_s) > limits.time_s and (
        _deviation(moving, off_s) > CLOCK_SHARE * _deviation(moving, 0.0)
    ):
        off_s = 0.0
    drift, findings = _drift(plan, given, off_s, limits)
    if drift is not None:
        return drift, findings
    if abs(off_s) <= limits.time_s:
        return _ClockOff(), []
    ahead = "ahead" if off_s > 0 else "behind"
    text = (
        f"what was logged fits the table best with a clock {hours_text(abs(off_s))} {ahead}"
        + _reason(off_s)
    )
    return _ClockOff(off_s), [Finding("L604", "", text)]


def _thinned(one: _Light) -> _Light:
    step = max(one.unix_s.size // MOST_POINTS, 1)
    return replace(one, unix_s=one.unix_s[::step], values=one.values[::step])


def _deviation(lights: Sequence[_Light], off_s: float) -> float:
    """Return how far lights are from the replay at shifted instants, on the mean. [fractions of full]"""
    return sum(
        float(np.abs(one.values - one.planned(one.unix_s + off_s)).mean()) / one.scale
        for one in lights
    )


def _best_shift(lights: Sequence[_Light], shifts: Sequence[float]) -> float:
    """Return the shift with the least deviation, of some and of those near the best of them."""

    def key(off_s: float) -> tuple[float, float]:
        return round(_deviation(lights, off_s), 9), abs(off_s)

    best = min(shifts, key=key)
    return min((best + fine for fine in range(-60, 61, 5)), key=key)


def _drift(
    plan: _Plan, given: Mapping[str, _Light], off_s: float, limits: Limits
) -> tuple[_ClockOff | None, list[Finding]]:
    """Return a clock that gains or loses from date to date, if the log shows one."""
    found: list[tuple[float, float]] = []
    by_day = [
        (one, *np.unique(plan.local(one.unix_s)[0], return_index=True)) for one in given.values()
    ]
    days = sorted({int(day) for _, own, _ in by_day for day in own})
    for day in days[:: -(-len(days) // MOST_DRIFT_DATES)]:
        lights = []
        for one, own, begins in by_day:
            at = int(np.searchsorted(own, day))
            if at == own.size or own[at] != day:
                continue
            here = slice(begins[at], begins[at + 1] if at + 1 < own.size else None)
            part = replace(one, unix_s=one.unix_s[here], values=one.values[here])
            if part.values.size > 1 and np.ptp(part.values) > STUCK_LIGHT * one.scale:
                lights.append(_thinned(part))
        if lights:
            near = [off_s + shift for shift in range(-_DRIFT_S, _DRIFT_S + 1, 60)]
            middle = float(np.mean([one.unix_s.mean() for one in lights]))
            found.append((middle, _best_shift(lights, near)))
    if len(found) < DRIFT_DATES:
        return None, []
    instants, shifts = (np.array(column) for column in zip(*found, strict=True))
    slope, at_once = np.polyfit(instants - instants[0], shifts, 1)
    rest = shifts - (at_once + slope * (instants - instants[0]))
    moved = slope * (instants[-1] - instants[0])
    if abs(moved) < limits.time_s or np.abs(rest).max() > max(abs(moved) / 4, 15.0):
        return None, []
    per_day = slope * SECONDS_PER_DAY
    gains = "gains" if per_day > 0 else "loses"
    last = at_once + moved
    text = (
        f"the clock {gains} {abs(per_day):.0f} s a day; by the end of the log it is"
        f" {hours_text(abs(last))} {'ahead' if last > 0 else 'behind'}"
    )
    return _ClockOff(float(at_once), float(instants[0]), float(slope)), [Finding("L611", "", text)]


def _reason(off_s: float) -> str:
    hours = off_s / SECONDS_PER_HOUR
    if abs(hours) > 0.4 and abs(hours * 2 - round(hours * 2)) < 0.05:
        return "; whole or half hours: summer time, or another zone than the table's?"
    return ""


def _judge_one(
    plan: _Plan, one: _Light, limits: Limits, off: _ClockOff
) -> tuple[Judged, list[Finding]]:
    low, high = _band(one.planned, one.unix_s + off.at(one.unix_s), limits.time_s)
    away = np.maximum(np.maximum(low - one.values, one.values - high), 0.0) / one.scale
    worst = int(away.argmax())
    lengths = np.diff(one.unix_s)
    covered = lengths <= limits.gap_s
    given, planned, by_date = _doses_of(plan, one, lengths, covered)
    judged = Judged(
        subject=one.subject,
        unit=one.unit,
        covered_s=float(lengths[covered].sum()),
        given=given,
        planned=planned,
        worst=float(away[worst]),
        worst_unix_s=float(one.unix_s[worst]),
        by_date=by_date,
    )
    findings = list(_gaps(one, lengths, limits))
    stuck = _stuck(one, off, limits)
    if stuck is not None:
        findings.append(stuck)
    elif away[worst] > limits.light:
        wrong = float(lengths[(away[:-1] > limits.light) & covered].sum())
        findings.append(
            Finding(
                "L601",
                one.subject,
                f"off by up to {away[worst] * 100:.1f} % of full, at {_time(one.unix_s[worst])}:"
                f" {_amount(one, float(one.values[worst]))} where the table has"
                f" {_amount(one, float(_nearest(one.values[worst], low[worst], high[worst])))}"
                f"; beyond {limits.light * 100:g} % for {hours_text(wrong)} in all",
            )
        )
    return judged, findings


def _nearest(value: float, low: float, high: float) -> float:
    return low if value < low else high


def _amount(one: _Light, value: float) -> str:
    return f"{value * 100:.1f} % light" if one.scale == 1.0 else f"{value:.1f} µmol m⁻² s⁻¹"


def _doses_of(
    plan: _Plan, one: _Light, lengths: Floats, covered: Bools
) -> tuple[float, float, dict[dt.date, tuple[float, float, float]]]:
    """Return the dose given and planned over the covered seconds, and by date of the clock."""
    divisor = SECONDS_PER_HOUR if one.scale == 1.0 else UMOL_PER_MOL
    start = one.unix_s[:-1][covered]
    values = one.values[:-1] if one.is_put_out else 0.5 * (one.values[:-1] + one.values[1:])
    given = values[covered] * lengths[covered] / divisor
    wanted = _planned_between(one, start, lengths[covered]) / divisor
    days, _ = plan.local(start)
    by_date = {}
    for day in np.unique(days):
        here = days == day
        by_date[_date(int(day))] = (
            float(given[here].sum()),
            float(wanted[here].sum()),
            float(lengths[covered][here].sum()),
        )
    return float(given.sum()), float(wanted.sum()), by_date


def _planned_between(one: _Light, start: Floats, lengths: Floats) -> Floats:
    """Return the integral of the replay over stretches, by the middles of ten seconds or so each."""
    result = np.zeros(start.shape)
    for least, most in ((0.0, SECONDS_PER_MINUTE), (SECONDS_PER_MINUTE, np.inf)):
        here = (lengths > least) & (lengths <= most)
        if not here.any():
            continue
        steps = max(int(np.ceil(float(lengths[here].max()) / 10)), 1)
        for step in range(steps):
            middle = start[here] + (step + 0.5) / steps * lengths[here]
            result[here] += one.planned(middle) * lengths[here] / steps
    return result


def _gaps(one: _Light, lengths: Floats, limits: Limits) -> Iterator[Finding]:
    gaps = np.flatnonzero(lengths > limits.gap_s)
    if gaps.size:
        longest = int(gaps[lengths[gaps].argmax()])
        yield Finding(
            "L603",
            one.subject,
            f"nothing logged for {hours_text(float(lengths[gaps].sum()))} in {gaps.size} gap"
            f"{'s' if gaps.size > 1 else ''}, the longest of {hours_text(float(lengths[longest]))}"
            f" from {_time(one.unix_s[longest])}",
        )


def _stuck(one: _Light, off: _ClockOff, limits: Limits) -> Finding | None:
    """Return a finding if an output stays still for long while the plan moves away from it."""
    wanted = one.planned(one.unix_s + off.at(one.unix_s))
    worst: tuple[float, int, int] | None = None
    begin = 0
    for at in range(1, one.values.size + 1):
        moved = at == one.values.size or (
            abs(one.values[at] - one.values[begin]) > STILL_LIGHT * one.scale
        )
        if not moved:
            continue
        length = one.unix_s[at - 1] - one.unix_s[begin]
        if length >= STUCK_S:
            part = wanted[begin:at]
            far = np.abs(part - one.values[begin]).max() > limits.light * one.scale
            if np.ptp(part) > STUCK_LIGHT * one.scale and far and (not worst or length > worst[0]):
                worst = float(length), begin, at - 1
        begin = at
    if worst is None:
        return None
    length, begin, end = worst
    part = wanted[begin : end + 1]
    return Finding(
        "L606",
        one.subject,
        f"stuck at {_amount(one, float(one.values[begin]))} for {hours_text(length)} from"
        f" {_time(one.unix_s[begin])}, while the table goes from"
        f" {_amount(one, float(part.min()))} to {_amount(one, float(part.max()))}",
    )


def _relays(plan: _Plan, log: Log, limits: Limits, off: _ClockOff) -> Iterator[Finding]:
    """Return where a relay was not as the table has it."""
    for (id, quantity), series in log.series.items():
        if quantity != "relay" or id not in plan.table.paths:
            continue
        instants = series.unix_s + off.at(series.unix_s)
        low, high = _band(functools.partial(plan.relay_on, id), instants, limits.time_s)
        wrong = (series.values < low) | (series.values > high)
        if not wrong.any():
            continue
        first = int(np.flatnonzero(wrong)[0])
        lengths = np.append(np.diff(series.unix_s), 0.0)
        total = float(lengths[wrong & (lengths <= limits.gap_s)].sum())
        state, meant = ("closed", "open") if series.values[first] > 0.5 else ("open", "closed")
        yield Finding(
            "L607",
            id,
            f"relay {state} where the table has it {meant}, first at"
            f" {_time(series.unix_s[first])}; otherwise than the table for {hours_text(total)} in all",
        )


def _missing(table: Exported, log: Log) -> Iterator[Finding]:
    """Return a note for what the log does not tell of, or the table does not know."""
    told = {subject for subject, _ in log.series}
    if not any(quantity == "ppfd" for _, quantity in log.series):
        for id in table.paths:
            if id not in told:
                yield Finding("L608", id, "not in the log", is_warning=False)
    known = {*table.paths, *zones(table)}
    for subject in sorted(told - known):
        yield Finding("L608", subject, "in the log, but not in the table", is_warning=False)


def _zones(table: Exported, judged: Sequence[Judged]) -> Iterator[Judged]:
    """Return the dose of each zone all of whose channels the log tells of."""
    by_id = {one.subject: one for one in judged}
    for zone in zones(table):
        full = {
            id: channel["full_ppfd"][zone]
            for id, channel in table.about["channels"].items()
            if channel["full_ppfd"].get(zone)
        }
        if zone in by_id or not full or not set(full) <= set(by_id):
            continue
        per_hour = SECONDS_PER_HOUR / UMOL_PER_MOL
        dates = set.intersection(*(set(by_id[id].by_date) for id in full))
        yield Judged(
            subject=zone,
            unit="mol m⁻²",
            covered_s=min(by_id[id].covered_s for id in full),
            given=sum(by_id[id].given * value for id, value in full.items()) * per_hour,
            planned=sum(by_id[id].planned * value for id, value in full.items()) * per_hour,
            worst=0.0,
            worst_unix_s=0.0,
            by_date={
                date: (
                    sum(by_id[id].by_date[date][0] * value for id, value in full.items())
                    * per_hour,
                    sum(by_id[id].by_date[date][1] * value for id, value in full.items())
                    * per_hour,
                    min(by_id[id].by_date[date][2] for id in full),
                )
                for date in sorted(dates)
            },
        )


def _doses(judged: Sequence[Judged], limits: Limits) -> Iterator[Finding]:
    for one in judged:
        if one.planned <= 0:
            continue
        share = one.given / one.planned - 1
        if abs(share) > limits.dose:
            more = "more" if share > 0 else "less"
            yield Finding(
                "L602",
                one.subject,
                f"{one.given:.2f} {one.unit} given where the table gives {one.planned:.2f}:"
                f" {abs(share) * 100:.1f} % {more}",
            )


def _dates(table: Exported, plan: _Plan, log: Log) -> Iterator[Finding]:
    """Return a note if the log reaches beyond the dates of the table."""
    if table.image.span is None:
        return
    first, last = (date_of(day) for day in table.image.span)
    days, _ = plan.local(np.array(log.span_unix_s))
    if _date(int(days[0])) < first or _date(int(days[-1])) > last:
        yield Finding(
            "L605",
            "",
            f"the log is of {_date(int(days[0]))} to {_date(int(days[-1]))}, the table for {first}"
            f" to {last}; outside, its first or last table is taken to have gone on",
            is_warning=False,
        )


def _time(unix_s: float) -> str:
    moment = dt.datetime.fromtimestamp(float(unix_s), dt.UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")
