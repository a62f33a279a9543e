"""Levels that are not as the table has them: wrong for long, stuck, or above all that is possible."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.log_reader import Log, Quantity
from photoperiod.compare.model import Finding, Limits
from photoperiod.formats.table import PlayableTable
from photoperiod.text import hours_text, number_text
from photoperiod.units import SECONDS_PER_HOUR

#: An output is stuck if it stays still for this long while the table moves by this much [fraction of
#: full]. Our choice.
STUCK_S = SECONDS_PER_HOUR
STUCK_LIGHT = 0.10

#: Light or a relay is wrong if it is so without a break, to one side, for this long [s] and in so many
#: records: noise of a meter is neither. Our choice.
LASTING_S = 600.0
LASTING_RECORDS = 3

#: Volts further than this above the most that the converter gives come from an open pair [V]. Our choice.
OPEN_PAIR_VOLTS = 0.3


def level_findings(
    expected: Expected,
    light: LoggedLight,
    limits: Limits,
    shift: ClockShift,
    away: Floats,
    nearest: Floats,
) -> Iterator[Finding]:
    """Yield PHO606 for an output that is stuck, or else PHO601 for light that stays wrong.

    ``nearest`` is the nearest value that the tolerance in time allows at each record, ``away`` the
    distance from it. [fraction of full]
    """
    stuck = _stuck(expected, light, shift, limits, away)
    if stuck is not None:
        yield stuck
        return
    lengths = np.append(np.diff(light.unix_s), 0.0)
    counted = np.where(lengths <= limits.gap_s, lengths, 0.0)
    wrong = away > limits.light
    below = light.values < nearest
    if not (lasts(wrong & below, counted) or lasts(wrong & ~below, counted)):
        return
    worst = int(away.argmax())
    yield Finding(
        "PHO601",
        light.subject,
        f"off by up to {away[worst] * 100:.1f} % of full, at {expected.time_text(light.unix_s[worst])}:"
        f" {_amount(light, light.values[worst])} where the table has {_amount(light, nearest[worst])}; beyond"
        f" {limits.light * 100:g} % for {hours_text(float(counted[wrong].sum()))} in all",
    )


def lasts(wrong: Bools, lengths: Floats) -> bool:
    """Return True if something is wrong for `LASTING_S` without a break, unlike noise of a meter.

    Parameters
    ----------
    wrong : ndarray of bool, shape (records,)
        True where it is wrong.
    lengths : ndarray, shape (records,)
        Time from each record to the next. [s]
    """
    run, records = 0.0, 0
    for is_wrong, length in zip(wrong.tolist(), lengths.tolist(), strict=True):
        run, records = (run + length, records + 1) if is_wrong else (0.0, 0)
        if run >= LASTING_S and records >= LASTING_RECORDS:
            return True
    return False


def _stuck(
    expected: Expected, light: LoggedLight, shift: ClockShift, limits: Limits, away: Floats
) -> Finding | None:
    """Return PHO606 if an output stays still for long while the table moves away from it.

    The records at both ends of the still stretch may be early or late, so they are left out.
    """
    planned = light.expected(light.unix_s + shift.at(light.unix_s))
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
            part = planned[begin:at][inner]
            moves = part.size > 1 and np.ptp(part) > STUCK_LIGHT * light.scale
            if moves and (away[begin:at][inner] > limits.light).any():
                worst = length, begin, at - 1
        begin = at
    if worst is None:
        return None
    length, begin, end = worst
    part = planned[begin : end + 1]
    return Finding(
        "PHO606",
        light.subject,
        f"stuck at {_amount(light, values[begin])} for {hours_text(length)} from"
        f" {expected.time_text(instants[begin])}, while the table goes from"
        f" {_amount(light, float(part.min()))} to {_amount(light, float(part.max()))}",
    )


def _amount(light: LoggedLight, value: float) -> str:
    return f"{value:.1f} µmol m⁻² s⁻¹" if light.is_zone else f"{value * 100:.1f} % light"


def open_pair_findings(table: PlayableTable, log: Log, expected: Expected) -> Iterator[Finding]:
    """Yield PHO612 where volts, counts or codes are above all that the controller can give."""
    for id, path in table.paths.items():
        most = {
            Quantity.VOLTS: float(path.volts[-1]) + OPEN_PAIR_VOLTS,
            Quantity.MILLIVOLTS: 1000 * (float(path.volts[-1]) + OPEN_PAIR_VOLTS),
            Quantity.COUNT: path.top_count,
            Quantity.CONVERTER_CODE: path.full_code,
        }
        for quantity, limit in most.items():
            series = log.series.get((id, quantity))
            if series is None or series.values.max() <= limit:
                continue
            at = int(series.values.argmax())
            yield Finding(
                "PHO612",
                id,
                f"{number_text(float(series.values[at]))} {quantity} at"
                f" {expected.time_text(series.unix_s[at])}, more than the controller can give: is the"
                " pair open (full light), or is it another quantity?",
            )
