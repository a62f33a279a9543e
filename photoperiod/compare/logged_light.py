"""What a log says about the light of channels and the PPFD of zones."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import replace

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

    At each instant the light is that of the most certain quantity that the log has there. A relay that is
    not in the log is taken as the table has it, at instants corrected by ``shift``; with None, while the
    clock is not known yet, it is taken as closed.
    """
    for id, path in table.paths.items():
        judged = judged_series(log, id)
        if not judged:
            continue
        relay = log.series.get((id, Quantity.RELAY))
        values = [
            light_of(path, one.quantity, one.values, relay_at(relay, one, expected, id, shift))
            for one in judged
        ]
        holds = [np.full(one.unix_s.shape, one.quantity in HOLDING) for one in judged]
        unix_s = np.concatenate([one.unix_s for one in judged])
        order = np.argsort(unix_s, kind="stable")
        yield LoggedLight(
            subject=id,
            is_zone=False,
            scale=1.0,
            holds=np.concatenate(holds)[order],
            unix_s=unix_s[order],
            values=np.concatenate(values)[order],
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


def judged_series(log: Log, id: str) -> list[Series]:
    """Return what of a log is compared with the table for a channel, the most certain quantity first.

    Each quantity stands at the instants at which the log has it and none that is more certain, so that no
    instant stands twice. A quantity that stands nowhere is left out.
    """
    judged: list[Series] = []
    known: Floats = np.zeros(0)
    for quantity in LIGHT_QUANTITIES:
        series = log.series.get((id, quantity))
        if series is None:
            continue
        alone = ~np.isin(series.unix_s, known)
        if alone.any():
            judged.append(replace(series, unix_s=series.unix_s[alone], values=series.values[alone]))
            known = np.concatenate([known, judged[-1].unix_s])
    return judged


def relay_at(
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
