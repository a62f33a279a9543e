"""What a log says about the light of channels and the PPFD of zones."""

from __future__ import annotations

import functools
from collections.abc import Iterator

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.drive.light_path import LightPath
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import zones

#: Quantities from which the light of a channel can be computed, the most certain first.
LIGHT_QUANTITIES = (
    Quantity.COUNT,
    Quantity.CONVERTER_CODE,
    Quantity.VOLTS,
    Quantity.MILLIVOLTS,
    Quantity.LEVEL_PERCENT,
    Quantity.LIGHT_PERCENT,
)

#: A player holds these until its next record. What a meter reads changes on the way to the next one.
HOLDING = (Quantity.COUNT, Quantity.CONVERTER_CODE)


def logged_lights(
    table: PlayableTable, log: Log, expected: Expected, shift: ClockShift | None
) -> Iterator[LoggedLight]:
    """Yield the light of each channel in the log, and the PPFD of each zone in it.

    A relay that is not in the log is taken as the table has it, at instants corrected by ``shift``;
    with None, while the clock is not known yet, it is taken as closed.
    """
    for id, path in table.paths.items():
        best = next((log.series[id, q] for q in LIGHT_QUANTITIES if (id, q) in log.series), None)
        if best is None:
            continue
        relay_on = _relay_at(log.series.get((id, Quantity.RELAY)), best, expected, id, shift)
        yield LoggedLight(
            subject=id,
            is_zone=False,
            scale=1.0,
            holds=best.quantity in HOLDING,
            unix_s=best.unix_s,
            values=light_of(path, best.quantity, best.values, relay_on),
            expected=functools.partial(expected.light, id),
        )
    for zone in zones(table):
        series = log.series.get((zone, Quantity.PPFD))
        if series is not None:
            full = sum(table.full_ppfd(zone).values())
            yield LoggedLight(
                subject=zone,
                is_zone=True,
                scale=max(full, 1e-9),
                holds=False,
                unix_s=series.unix_s,
                values=series.values,
                expected=functools.partial(expected.ppfd, zone),
            )


def _relay_at(
    relay: Series | None, series: Series, expected: Expected, id: str, shift: ClockShift | None
) -> Bools:
    """Return the state of a relay at the instants of a series: as logged, or as the table has it."""
    if relay is not None:
        index = np.searchsorted(relay.unix_s, series.unix_s, side="right") - 1
        return relay.values[np.maximum(index, 0)] > 0.5
    if shift is None:
        return np.ones(series.unix_s.shape, dtype=np.bool_)
    return expected.relay_on(id, series.unix_s + shift.at(series.unix_s)) > 0


def light_of(path: LightPath, quantity: Quantity, values: Floats, relay_on: Bools) -> Floats:
    """Return the light of a channel from logged values. [fraction of full]

    Volts are taken as those at the control pair, so that a converter that is off shows up.
    """
    if quantity == Quantity.LIGHT_PERCENT:
        return values / 100
    if quantity == Quantity.COUNT:
        counts = np.clip(np.round(values), 0, path.top_count).astype(np.int64)
        return path.light(counts, relay_on)
    volts = values / 1000
    if quantity == Quantity.CONVERTER_CODE:
        volts = path.volts_of(values.astype(np.int64))
    elif quantity == Quantity.VOLTS:
        volts = values
    elif quantity == Quantity.LEVEL_PERCENT:
        volts = values / 10
        if path.output is not None:  # the level that the controller meant is not what came out
            volts = np.interp(values, path.level_percents, path.volts)
    middles = 0.5 * (path.volts[1:] + path.volts[:-1])
    lit = path.is_lit(np.searchsorted(middles, volts, side="right"), relay_on)
    return np.where(lit, path.ballast.light_at(volts), 0.0)
