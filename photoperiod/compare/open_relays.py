"""Volts that stand behind an open relay: no light, but a relay that sticks would give it."""

from __future__ import annotations

import functools
from collections.abc import Iterator

from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.contradictions import (
    METER_VOLTS,
    METERED,
    VOLTS_QUANTITIES,
    pair_volts,
)
from photoperiod.compare.deviations import LEAST_WRONG_S, seconds_of
from photoperiod.compare.expected import Expected, band
from photoperiod.compare.log_model import Log, Quantity
from photoperiod.compare.logged_light import HOLDING, judged_series, relay_at
from photoperiod.compare.model import Finding, Limits
from photoperiod.compare.noise import scatter_of
from photoperiod.text import hours_text


def open_relay_findings(
    expected: Expected, log: Log, limits: Limits, shift: ClockShift
) -> Iterator[Finding]:
    """Yield PHO620, a note, for each channel that has volts while its relay is open, in log and table.

    Volts count from 0.3 V above those of a dark channel on, beyond their noise, for two minutes or more in
    all. A relay that is not in the log is taken as the table has it.
    """
    for id, path in expected.table.paths.items():
        relay = log.series.get((id, Quantity.RELAY))
        for one in judged_series(log, id):
            if one.quantity not in VOLTS_QUANTITIES:
                continue
            volts = pair_volts(path, one.quantity, one.values)
            noise = scatter_of(volts) if one.quantity in METERED else 0.0
            limit = float(path.volts[0]) + METER_VOLTS + noise
            is_closed = relay_at(relay, one, expected, id, shift)
            instants = one.unix_s + shift.at(one.unix_s)
            reach_s = limits.time_s + shift.doubt_s
            _, _, planned = band(functools.partial(expected.relay_on, id), instants, reach_s)
            here = ~is_closed & (planned < 0.5) & (volts > limit)
            seconds = seconds_of(one.unix_s, limits.gap_s, holds=one.quantity in HOLDING)
            total_s = float(seconds[here].sum())
            if total_s < LEAST_WRONG_S:
                continue
            yield Finding(
                "PHO620",
                id,
                f"up to {float(volts[here].max()):.1f} V behind an open relay, for {hours_text(total_s)} in"
                f" all, first at {expected.time_text(one.unix_s[int(here.argmax())])}: if it sticks, these"
                " volts light the lamp",
                is_warning=False,
            )
