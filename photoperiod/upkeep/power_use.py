"""Energy and its price: by channel, by day, month and year, from the finished tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass

import numpy as np

from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program, Table
from photoperiod.schedule.channels import watts_disagree
from photoperiod.units import SECONDS_PER_HOUR
from photoperiod.upkeep.prices import DayPrices, PriceKey

#: A year of which there is no other date. [d]
DAYS_PER_YEAR = 365


@dataclass(frozen=True, slots=True)
class Use:
    """Energy [kWh], and what it costs in the currency of the costs; None without a tariff."""

    kwh: float
    cost: float | None

    def __add__(self, other: Use) -> Use:
        known = self.cost is not None and other.cost is not None
        return Use(self.kwh + other.kwh, (self.cost or 0) + (other.cost or 0) if known else None)

    def times(self, number: float) -> Use:
        """Return the same so many times."""
        return Use(self.kwh * number, None if self.cost is None else self.cost * number)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerUse:
    """What a program takes from the mains.

    Parameters
    ----------
    days : int
        How many dates there are; 1 for a day of no date.
    channels : mapping of channel to Use
        Over all dates, of the channels whose watts are given.
    months : mapping of (year, month) to mapping of channel to Use
        The same by calendar month; empty without dates.
    unknown : tuple of str
        Channels whose watts are not given.
    in_doubt : tuple of str
        Channels whose tubes and ballasts disagree, so that their number of ballasts may be wrong.
    """

    days: int
    channels: Mapping[str, Use]
    months: Mapping[tuple[int, int], Mapping[str, Use]]
    unknown: tuple[str, ...]
    in_doubt: tuple[str, ...]

    @property
    def total(self) -> Use:
        """Of all channels over all dates."""
        return together(self.channels)

    @property
    def a_year(self) -> Use:
        """The same for 365 dates like these."""
        return self.total.times(DAYS_PER_YEAR / self.days)

    @property
    def years(self) -> dict[int, dict[str, Use]]:
        """By calendar year: the use of each channel."""
        found: dict[int, dict[str, Use]] = {}
        for (year, _), channels in self.months.items():
            _add(found.setdefault(year, {}), channels)
        return found


def together(channels: Mapping[str, Use]) -> Use:
    """Return the use of some channels together; nothing costs nothing."""
    total: Use | None = None
    for use in channels.values():
        total = use if total is None else total + use
    return total or Use(0.0, None)


def power_use(program: Program) -> PowerUse:
    """Return what a program takes from the mains over its dates, and what that costs."""
    price = _Pricing(program)
    channels: dict[str, Use] = {}
    months: dict[tuple[int, int], dict[str, Use]] = {}
    for table in program.tables:
        for (month, key), days in _counted(table, price.key_of).items():
            of_days = {id: use.times(days) for id, use in price.uses(table, key).items()}
            _add(channels, of_days)
            if month is not None:
                _add(months.setdefault(month, {}), of_days)
    return PowerUse(
        days=1 if program.span is None else program.span.days,
        channels=channels,
        months=months,
        unknown=tuple(id for id, c in program.channels.items() if c.energy_kwh is None),
        in_doubt=tuple(id for id, c in program.schedule.channels.items() if watts_disagree(c)),
    )


def day_uses(program: Program, table: Table) -> dict[str, Use]:
    """Return what each channel takes on the first date of a table, and what that costs."""
    price = _Pricing(program)
    return price.uses(table, price.key_of(table.span.first if table.span else None))


class _Pricing:
    """Energy and price of one day of a table, each worked out once."""

    def __init__(self, program: Program) -> None:
        costs = program.schedule.costs
        has_tariff = costs is not None and costs.tariff is not None
        self.prices = DayPrices(program.schedule) if has_tariff else None
        if self.prices is not None and self.prices.needs_dates and program.span is None:
            self.prices = None
        self._known: dict[Hashable, float] = {}

    def key_of(self, date: dt.date | None) -> PriceKey:
        return 0 if self.prices is None else self.prices.key_of(date)

    def uses(self, table: Table, key: PriceKey) -> dict[str, Use]:
        return {
            id: Use(c.energy_kwh, self._cost(id, c, key))
            for id, c in table.channels.items()
            if c.energy_kwh is not None
        }

    def _cost(self, id: str, c: ChannelDay, key: PriceKey) -> float | None:
        if self.prices is None or c.energy_kwh is None:
            return None
        if self.prices.flat is not None:
            return c.energy_kwh * self.prices.flat
        known = id, c.fit.rows, c.ballasts, key
        if known not in self._known:
            watts, prices = c.mains_watts, self.prices.of(key)
            assert watts is not None
            if isinstance(key, dt.date):
                watts = np.concatenate([watts[a:b] for a, b in self.prices.spans_on(key)])
            self._known[known] = float(watts @ prices) / SECONDS_PER_HOUR / 1000
        return self._known[known]


def _counted(
    table: Table, key_of: Callable[[dt.date | None], PriceKey]
) -> dict[tuple[tuple[int, int] | None, PriceKey], int]:
    """Return how many dates a table has, by month and by what decides their prices."""
    if table.span is None:
        return {(None, key_of(None)): 1}
    found: dict[tuple[tuple[int, int] | None, PriceKey], int] = {}
    for date in table.span:
        at = (date.year, date.month), key_of(date)
        found[at] = found.get(at, 0) + 1
    return found


def _add(to: dict[str, Use], more: Mapping[str, Use]) -> None:
    for id, use in more.items():
        to[id] = to[id] + use if id in to else use
