"""A series over months → how fast tubes fade, and when their light falls below a share.

Light falls as B·e^(−αt) over lit hours (IES TM-21 and TM-28, as in
ies.org, "An intuitive metric for lumen maintenance", 2019), fitted by least squares of its logarithm.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Floats, np
from photoperiod.drive.depreciation import DECLARED_AT_H
from photoperiod.readings.columns import Quantity
from photoperiod.readings.doubts import off_trend, stands_out
from photoperiod.readings.faults import Faults
from photoperiod.readings.model import Readings
from photoperiod.readings.slips import off_line
from photoperiod.readings.straight_line import Slope, common_slope
from photoperiod.text import number_text, plain_number

#: A forecast may reach so many times as far as the hours that were measured: the rule of IES TM-21 and
#: TM-28 for lamps, as quoted there.
MOST_REACH = 6.0

#: A reading of a series stands out if it is off by this factor at least. Our choice, no source.
LEAST_FACTOR = 1.1

#: So many readings are held against a line through all pairs, which strays do not move; more against a trend
#: by weights. Our choice.
FEW = 60

#: Fewer different hours than these tell no loss with an interval.
LEAST_READINGS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Fade:
    """How tubes fade.

    Parameters
    ----------
    loss, loss_low, loss_high : float
        Loss within 1,000 h, of the light at their beginning, and its interval. [fraction]
    alpha : Slope
        α of the law. [1/h]
    first_hours, last_hours : float
        Of the readings. [h]
    light_at_declared : float
        Light after 100 h by the law, in the unit of the readings.
    hours_per_day : float or None
        By dates and hours of the readings; None without two dates. [h]
    last_date : date or None
        Of the last reading.
    """

    loss: float
    loss_low: float
    loss_high: float
    alpha: Slope
    first_hours: float
    last_hours: float
    light_at_declared: float
    hours_per_day: float | None
    last_date: dt.date | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """When light falls below a share: lit hours [h], and the date where hours a day are known.

    ``earliest`` and ``latest`` are by the interval of the loss; ``latest`` is None if it may never.
    """

    hours: float
    date: dt.date | None
    earliest: dt.date | None
    latest: dt.date | None


def fade_of(readings: Readings, faults: Faults) -> Fade | None:
    """Return how the tubes of a series fade; None, and findings, if it does not tell."""
    _report_mixed(readings, faults)
    hours, light = readings.lit_hours, readings.light
    for at in np.flatnonzero(light <= 0):
        faults.add(
            "PHO904",
            readings.place(int(at), readings.light_quantity),
            "no light at all: that is no fading",
            "say in `leave_out` why it does not count",
        )
    if np.unique(hours).size < LEAST_READINGS:
        faults.add(
            "PHO908",
            None,
            f"the series has readings at {np.unique(hours).size} different hours, a loss needs"
            f" {LEAST_READINGS}",
            "read the same place again in some weeks",
        )
    if faults.has_errors:
        return None
    logs = np.log(light)
    slope = common_slope(hours, logs, np.zeros(hours.size, dtype=np.int64))
    if slope is None:
        return None
    _report_strays(readings, logs, faults)
    alpha = Slope(-slope.value, -slope.high, -slope.low)
    height = float(logs.mean()) + alpha.value * (float(hours.mean()) - DECLARED_AT_H)
    dates = [(day, float(h)) for day, h in zip(readings.dates, hours, strict=True) if day]
    return Fade(
        loss=_loss(alpha.value),
        loss_low=_loss(alpha.low),
        loss_high=_loss(alpha.high),
        alpha=alpha,
        first_hours=float(hours.min()),
        last_hours=float(hours.max()),
        light_at_declared=math.exp(height),
        hours_per_day=_hours_per_day(dates),
        last_date=max((day for day, _ in dates), default=None),
    )


def _loss(alpha: float) -> float:
    return 1.0 - math.exp(-1000.0 * alpha)


def _hours_per_day(dates: list[tuple[dt.date, float]]) -> float | None:
    if len(dates) < 2:
        return None
    (first, begin), (last, end) = min(dates), max(dates)
    days = (last - first).days
    return (end - begin) / days if days and end > begin else None


def _report_mixed(readings: Readings, faults: Faults) -> None:
    """Add a finding for a series of several channels, places or levels, or with other tubes within it."""
    held: dict[Quantity, Sequence[object]] = {
        Quantity.CHANNEL: readings.channels,
        Quantity.ZONE: readings.zones,
        Quantity.POINT: readings.points,
        Quantity.LEVEL: readings.volts.tolist(),
        Quantity.DEPTH: readings.depth_cm.tolist(),
    }
    for quantity, names in held.items():
        if quantity not in readings.columns:
            continue
        if len(set(names)) > 1:
            other = next(at for at, name in enumerate(names) if name != names[0])
            faults.add(
                "PHO914",
                readings.place(other, quantity),
                f"the series is not of one {quantity}",
                "a series is one channel at one place and one level: save each in a file of its own",
            )
    dated = [(day, at) for at, day in enumerate(readings.dates) if day]
    for (_, before), (_, after) in zip(sorted(dated), sorted(dated)[1:], strict=False):
        if readings.lit_hours[after] < readings.lit_hours[before]:
            faults.add(
                "PHO914",
                readings.place(after, Quantity.LIT_HOURS),
                f"by its date this reading is later than that of line {readings.line(before)}, by its"
                " hours earlier",
                "were new tubes fitted? Begin a new file with them",
            )


def _report_strays(readings: Readings, logs: Floats, faults: Faults) -> None:
    hours = readings.lit_hours
    half = float(np.ptp(hours)) / 2
    if hours.size <= FEW:
        off = off_line(hours, logs)
    else:
        off = off_trend(((hours - float(hours.min())) / half - 1.0)[:, None], logs)
    for at in np.flatnonzero(stands_out(off, LEAST_FACTOR)):
        value = float(readings.light[at])
        faults.add(
            "PHO906",
            readings.place(int(at), readings.light_quantity),
            f"the reading is {number_text(value, 1)}, by the trend of the others"
            f" {number_text(value / math.exp(float(off[at])), 1)}",
            "another place, a dirty cover, a cold lamp? It is used as it stands",
        )


def forecast(fade: Fade, share: float) -> Forecast | None:
    """Return when light falls below a share of that after 100 h.

    None if no loss is shown, or if it lies farther off than readings of these hours can tell
    (`MOST_REACH`).
    """
    if fade.alpha.low <= 0:
        return None
    hours = _hours_to(share, fade.alpha.value)
    if hours - fade.first_hours > MOST_REACH * (fade.last_hours - fade.first_hours):
        return None
    return Forecast(
        hours=hours,
        date=_date_at(fade, hours),
        earliest=_date_at(fade, _hours_to(share, fade.alpha.high)),
        latest=_date_at(fade, _hours_to(share, fade.alpha.low)),
    )


def _hours_to(share: float, alpha: float) -> float:
    return DECLARED_AT_H - math.log(share) / alpha


def _date_at(fade: Fade, hours: float) -> dt.date | None:
    """Return the date of some lit hours, if they go on as in the readings."""
    if fade.hours_per_day is None or fade.last_date is None:
        return None
    days = (hours - fade.last_hours) / fade.hours_per_day
    try:
        return fade.last_date + dt.timedelta(days=math.floor(days))
    except OverflowError:
        return None


def fade_yaml(fade: Fade) -> str:
    """Return the line of a tube to paste into a schedule."""
    percent = plain_number(round(max(fade.loss, 0.0) * 100, 3))
    return f"depreciation: {{kind: exponential, loss_percent_per_1000_h: {percent}}}\n"
