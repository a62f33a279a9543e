"""Relays that are not as the table has them."""

from __future__ import annotations

import functools
from collections.abc import Iterator

from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.deviations import seconds_of
from photoperiod.compare.expected import Expected, band
from photoperiod.compare.log_model import Log, Quantity
from photoperiod.compare.model import Finding, Limits
from photoperiod.text import hours_text


def relay_findings(
    expected: Expected, log: Log, limits: Limits, shift: ClockShift
) -> Iterator[Finding]:
    """Yield PHO607 where a relay is not as the table has it, other than for records that may be late.

    A relay is closed or open, without noise: each record counts.
    """
    for (id, quantity), series in log.series.items():
        if quantity is not Quantity.RELAY or id not in expected.table.paths:
            continue
        instants = series.unix_s + shift.at(series.unix_s)
        reach_s = limits.time_s + shift.doubt_s
        _, low, high = band(functools.partial(expected.relay_on, id), instants, reach_s)
        wrong = (series.values < low) | (series.values > high)
        if not wrong.any():
            continue
        first = int(wrong.argmax())
        seconds = seconds_of(series.unix_s, limits.gap_s, holds=True)
        total = float(seconds[wrong].sum())
        logged, planned = ("closed", "open") if series.values[first] > 0.5 else ("open", "closed")
        yield Finding(
            "PHO607",
            id,
            f"relay {logged} where the table has it {planned}, first at"
            f" {expected.time_text(series.unix_s[first])}; otherwise than the table for {hours_text(total)}"
            " in all",
        )
