"""The price of power in each second of a date, by the clock of the tariff and that of the controller."""

from __future__ import annotations

import datetime as dt

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.days.day_curves import LAST_DATE_OF_CLOCKS, clock_of
from photoperiod.schedule.model import Schedule
from photoperiod.units import SECONDS_PER_DAY

_NOON_S = SECONDS_PER_DAY // 2

#: What decides the prices of a date: how far the tariff's clock is ahead [s], or, where clocks change,
#: the date.
PriceKey = int | dt.date


class DayPrices:
    """The prices of power on the dates of a schedule that has a tariff.

    Parameters
    ----------
    schedule : Schedule
        A schedule whose ``costs`` have a tariff.
    """

    def __init__(self, schedule: Schedule) -> None:
        assert schedule.costs is not None and schedule.costs.tariff is not None
        tariff = schedule.costs.tariff
        #: The one price of all hours, None if there are several. [currency per kWh]
        self.flat = tariff.hours[0].per_kwh if tariff.is_flat else None
        #: Whether a day without a date has prices: the tariff's clock is the controller's.
        self.needs_dates = self.flat is None and tariff.clock != schedule.controller.clock
        self._controller = clock_of(schedule, schedule.controller.clock)
        self._clock = clock_of(schedule, tariff.clock)
        self._by_tariff = np.zeros(SECONDS_PER_DAY)
        for each in tariff.hours:
            for begin, end in each.spans:
                self._by_tariff[begin:end] = each.per_kwh
        self._known: dict[PriceKey, Floats] = {}

    def key_of(self, date: dt.date | None) -> PriceKey:
        """Return what decides the prices of a date: dates with one key have the same prices."""
        if date is None or self.flat is not None or date > LAST_DATE_OF_CLOCKS:
            return 0
        bounds = self._controller.day_bounds(date)
        if self._controller.changes(*bounds) or self._clock.changes(bounds[0] + 1, bounds[1]):
            return date
        noon_unix_s = bounds[0] + _NOON_S
        return self._clock.offset_s(noon_unix_s) - self._controller.offset_s(noon_unix_s)

    def of(self, key: PriceKey) -> Floats:
        """Return the price in each second of a date as it passes.

        Returns
        -------
        ndarray, shape (86400,)
            By the controller's clock; where that changes, as many as pass. [currency per kWh]
        """
        if key not in self._known:
            self._known[key] = (
                self._on(key) if isinstance(key, dt.date) else np.roll(self._by_tariff, -key)
            )
        return self._known[key]

    def spans_on(self, date: dt.date) -> list[tuple[int, int]]:
        """Return the seconds of the controller's day that pass on a date, as stretches. [s]"""
        return self._controller.passing_spans(date)

    def _on(self, date: dt.date) -> Floats:
        """Return the prices of a date on which a clock changes, second by second."""
        unix_s = np.arange(*self._controller.day_bounds(date), dtype=np.int64)
        shown = (unix_s + self._clock.offsets_s(unix_s)) % SECONDS_PER_DAY
        prices: Floats = self._by_tariff[shown]
        return prices
