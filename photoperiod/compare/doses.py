"""Doses: full-light hours of channels and mol m⁻² of zones, by the log and by the table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected, LoggedLight, date_by_date, date_of_day
from photoperiod.compare.model import Finding, Limits, Result
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import zones
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, UMOL_PER_MOL


def result_of(
    expected: Expected, light: LoggedLight, limits: Limits, shift: ClockShift, away: Floats
) -> Result:
    """Return the dose and the largest deviation of a channel or zone in the log.

    ``away`` is the distance from what is expected, at each record. [fraction of full]
    """
    worst = int(away.argmax())
    lengths = np.diff(light.unix_s)
    covered = lengths <= limits.gap_s
    start = light.unix_s[:-1][covered]
    middles = 0.5 * (light.values[:-1] + light.values[1:])
    values = np.where(light.held[:-1], light.values[:-1], middles)
    divisor = UMOL_PER_MOL if light.is_zone else SECONDS_PER_HOUR
    given = values[covered] * lengths[covered] / divisor
    planned = _planned_dose(light, start + shift.at(start), lengths[covered]) / divisor
    days, _ = expected.local(start)
    return Result(
        subject=light.subject,
        is_zone=light.is_zone,
        unit="mol m⁻²" if light.is_zone else "full-light hours",
        covered_s=float(lengths[covered].sum()),
        given=float(given.sum()),
        planned=float(planned.sum()),
        worst=float(away[worst]),
        worst_unix_s=float(light.unix_s[worst]),
        by_date={
            date_of_day(int(day)): (
                float(given[days == day].sum()),
                float(planned[days == day].sum()),
                float(lengths[covered][days == day].sum()),
            )
            for day in np.unique(days)
        },
    )


def _planned_dose(light: LoggedLight, start: Floats, lengths: Floats) -> Floats:
    """Return the integral of the expected value over each stretch, by midpoints about 10 s apart.

    Stretches of a date are handled in three groups by length, so that one long gap does not make all fine.
    """
    result = np.zeros(start.shape)
    for date in date_by_date(start):
        least = 0.0
        for most in (SECONDS_PER_MINUTE, 10 * SECONDS_PER_MINUTE, np.inf):
            here = date.start + np.flatnonzero((lengths[date] > least) & (lengths[date] <= most))
            least = most
            if not here.size:
                continue
            steps = max(int(np.ceil(float(lengths[here].max()) / 10)), 1)
            parts = (np.arange(steps) + 0.5) / steps
            middles = start[here, np.newaxis] + parts * lengths[here, np.newaxis]
            values = light.expected(middles.ravel()).reshape(middles.shape)
            result[here] = values.mean(axis=1) * lengths[here]
    return result


def zone_results(table: PlayableTable, results: Sequence[Result]) -> Iterator[Result]:
    """Yield the dose of each zone without a meter if all its channels are in the log."""
    by_id = {one.subject: one for one in results if not one.is_zone}
    measured = {one.subject for one in results if one.is_zone}
    per_hour = SECONDS_PER_HOUR / UMOL_PER_MOL
    for zone in zones(table):
        full = {id: ppfd * per_hour for id, ppfd in table.full_ppfd(zone).items()}
        if zone in measured or not full or not set(full) <= set(by_id):
            continue
        dates = set.intersection(*(set(by_id[id].by_date) for id in full))
        yield Result(
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


def dose_findings(results: Sequence[Result], limits: Limits) -> Iterator[Finding]:
    """Yield PHO602 for doses beyond the limit, PHO614 if nothing could be compared."""
    if not any(one.covered_s > 0 for one in results):
        yield Finding("PHO614", "", "nothing of the log could be compared with the table")
    for one in results:
        if one.planned <= 0:
            continue
        ratio = one.given / one.planned - 1
        if abs(ratio) > limits.dose:
            more = "more" if ratio > 0 else "less"
            yield Finding(
                "PHO602",
                one.subject,
                f"{one.given:.2f} {one.unit} given where the table gives {one.planned:.2f}:"
                f" {abs(ratio) * 100:.1f} % {more}",
            )
