"""Columns of a log that contradict each other: a count, and a code, volts, level or light of another.

Only the most certain quantity of a channel in a record is compared with the table. The others are held
against it, through the light path of the table, so that a log is not called right while half of it says
otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.compare.deviations import LEAST_WRONG_S, seconds_of
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.compare.logged_light import judged_series, light_of
from photoperiod.compare.model import Finding, Limits
from photoperiod.compare.noise import scatter_of
from photoperiod.drive.light_path import VOLTS_SLACK, LightPath
from photoperiod.text import and_list, counted, number_text
from photoperiod.units import CONTROL_VOLTS_FULL

#: Quantities that stand for volts of the control pair, the most certain first.
VOLTS_QUANTITIES = (
    Quantity.COUNT,
    Quantity.CONVERTER_CODE,
    Quantity.VOLTS,
    Quantity.MILLIVOLTS,
    Quantity.LEVEL_PERCENT,
)

#: A meter may have read these.
METERED = (Quantity.VOLTS, Quantity.MILLIVOLTS)

#: Volts may be off by this beside their noise: a meter, a wire, a converter that was not measured [V]. Our
#: choice.
METER_VOLTS = 0.3

#: Light may be this share of what the light path has, all through a log: a meter may have read it, and tubes
#: fade. Our choice.
LIGHT_SHARES = (0.5, 1.1)

#: That share is told by records with more light than this alone, if there are so many. [fraction of full]
BRIGHT, LEAST_BRIGHT = 0.05, 3

#: Light may be written in whole percent. [fraction of full]
HALF_PERCENT = 0.005

#: A level may be written in whole percent: half a percent of 10 V. [V]
LEVEL_VOLTS = 0.5 / 100 * CONTROL_VOLTS_FULL


def contradiction_findings(expected: Expected, log: Log, limits: Limits) -> Iterator[Finding]:
    """Yield PHO618 for each channel of which columns contradict each other at the same instants.

    Where what was compared with the table is another quantity in some records, each has a finding.

    A count, a code and a level are exact to their rounding: each record counts. Volts and light may be
    readings of a meter: they may be early or late by a record, and are wrong for two minutes or more in all.
    """
    for id in expected.table.paths:
        judged = judged_series(log, id)
        where = " there" if len(judged) > 1 else ""
        for best in judged:
            if best.quantity in VOLTS_QUANTITIES:
                yield from _beside(expected, log, limits, best, where)


def _beside(
    expected: Expected, log: Log, limits: Limits, best: Series, where: str
) -> Iterator[Finding]:
    """Yield PHO618 if quantities contradict one that was compared with the table; ``where`` ends its text."""
    id, path = best.subject, expected.table.paths[best.subject]
    less = VOLTS_QUANTITIES[VOLTS_QUANTITIES.index(best.quantity) + 1 :]
    others = [log.series[id, quantity] for quantity in less if (id, quantity) in log.series]
    wrong = {
        other.quantity: instants
        for other in others
        if (instants := _contradictions(path, best, other, limits)).size
    }
    light = log.series.get((id, Quantity.LIGHT_PERCENT))
    if light is not None:
        relay = log.series.get((id, Quantity.RELAY))
        instants = _light_contradictions(path, best, light, relay, limits)
        others.append(light)
        wrong |= {light.quantity: instants} if instants.size else {}
    if not wrong:
        return
    instants = np.unique(np.concatenate(list(wrong.values())))
    first = instants[0]
    shown = [best, *(one for one in others if first in wrong.get(one.quantity, ()))]
    values = [_value_text(path, one, first) for one in shown]
    names = and_list([str(best.quantity), *map(str, wrong)])
    yield Finding(
        "PHO618",
        id,
        f"{names} contradict each other in {counted(instants.size, 'record')}, first at"
        f" {expected.time_text(first)}: {values[0]}, but {and_list(values[1:])};"
        f" only {best.quantity} was compared with the table{where}",
    )


def _contradictions(path: LightPath, best: Series, other: Series, limits: Limits) -> Floats:
    """Return the instants at which two quantities of a channel do not belong together. [Unix seconds]"""
    instants, at_best, at_other = np.intersect1d(
        best.unix_s, other.unix_s, assume_unique=True, return_indices=True
    )
    if not instants.size:
        return instants
    volts = pair_volts(path, best.quantity, best.values[at_best])
    found = pair_volts(path, other.quantity, other.values[at_other])
    allowed = _rounding_volts(path, best.quantity, volts) + VOLTS_SLACK
    allowed += _rounding_volts(path, other.quantity, volts)
    low = high = volts
    is_metered = best.quantity in METERED or other.quantity in METERED
    if is_metered:
        low, high = _with_neighbours(volts, np.min), _with_neighbours(volts, np.max)
        allowed += scatter_of(found - volts)
    wrong: Bools = (found < low - allowed) | (found > high + allowed)
    if is_metered:
        seconds = seconds_of(instants, limits.gap_s, holds=False)
        if float(seconds[wrong].sum()) < LEAST_WRONG_S:
            return instants[:0]
    return instants[wrong]


def _light_contradictions(
    path: LightPath, best: Series, light: Series, relay: Series | None, limits: Limits
) -> Floats:
    """Return the instants at which light does not belong to another quantity of a channel. [Unix seconds]

    Where the log has no relay, the lamp may be dark at any level.
    """
    instants, at_best, at_light = np.intersect1d(
        best.unix_s, light.unix_s, assume_unique=True, return_indices=True
    )
    if not instants.size:
        return instants
    volts = pair_volts(path, best.quantity, best.values[at_best])
    allowed_volts = _rounding_volts(path, best.quantity, volts) + VOLTS_SLACK
    closed = np.ones(instants.shape, dtype=np.bool_)
    if relay is not None:
        at = np.searchsorted(relay.unix_s, instants, side="right") - 1
        closed = relay.values[np.maximum(at, 0)] > 0.5
    low, middle, high = (
        light_of(path, Quantity.VOLTS, volts + by * allowed_volts, closed) for by in (-1, 0, 1)
    )
    found = light.values[at_light] / 100
    share = _share(found, middle)
    low, high = (share * _with_neighbours(each, of) for each, of in ((low, np.min), (high, np.max)))
    allowed = HALF_PERCENT + scatter_of(found - share * middle)
    is_low = found < low - allowed
    if relay is None:
        is_low &= found > HALF_PERCENT
    wrong: Bools = is_low | (found > high + allowed)
    seconds = seconds_of(instants, limits.gap_s, holds=False)
    return instants[wrong] if float(seconds[wrong].sum()) >= LEAST_WRONG_S else instants[:0]


def _share(found: Floats, of: Floats) -> float:
    """Return which share of some light was found in the median of bright records, as far as it may be."""
    is_bright = of > BRIGHT
    if int(is_bright.sum()) < LEAST_BRIGHT:
        return 1.0
    return float(np.clip(np.median(found[is_bright] / of[is_bright]), *LIGHT_SHARES))


def _with_neighbours(values: Floats, of: Callable[..., Floats]) -> Floats:
    """Return the least or the most of each value and those of the records before and after it."""
    before, after = np.append(values[:1], values[:-1]), np.append(values[1:], values[-1:])
    return of(np.stack([values, before, after]), axis=0)


def pair_volts(path: LightPath, quantity: Quantity, values: Floats) -> Floats:
    """Return the volts of the control pair that logged values stand for. [V]"""
    if quantity is Quantity.COUNT:
        return path.volts[np.clip(np.round(values), 0, path.top_count).astype(np.int64)]
    if quantity is Quantity.CONVERTER_CODE:
        return path.volts_of(np.round(values).astype(np.int64))
    if quantity is Quantity.LEVEL_PERCENT:
        return np.interp(values, path.level_percents, path.volts)
    return values / 1000 if quantity is Quantity.MILLIVOLTS else values


def _rounding_volts(path: LightPath, quantity: Quantity, volts: Floats) -> Floats:
    """Return by how much a value of a quantity may be off, by its rounding or as a reading. [V]"""
    if quantity is Quantity.COUNT:
        return np.zeros(volts.shape)
    if quantity in METERED:
        return np.full(volts.shape, METER_VOLTS)
    codes = (path.output or path.converter).nearest_codes(volts)
    half_code = 0.5 * np.abs(path.volts_of(codes) - path.volts_of(np.abs(codes - 1)))
    return half_code + (LEVEL_VOLTS if quantity is Quantity.LEVEL_PERCENT else 0.0)


def _value_text(path: LightPath, series: Series, unix_s: float) -> str:
    """Return a value as the log has it, with the volts that it stands for."""
    value = series.values[np.searchsorted(series.unix_s, unix_s)]
    text = f"{series.quantity} {number_text(float(value), 4)}"
    if series.quantity in (Quantity.VOLTS, Quantity.LIGHT_PERCENT):
        return text
    return f"{text} ({float(pair_volts(path, series.quantity, np.array([value]))[0]):.3f} V)"
