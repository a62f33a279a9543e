"""What power costs: one price for all hours, or a price for each hour of the day."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from photoperiod.diagnostics.model import Path
from photoperiod.sky.clock import ClockKind
from photoperiod.units import SECONDS_PER_DAY


class TariffKind(StrEnum):
    """How the price of power hangs on the time of day."""

    FLAT = "flat"
    HOURS = "hours"


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedHours:
    """Hours of the day that have one price.

    ``start_s`` to ``end_s`` may cross midnight: then ``end_s`` is not above ``start_s`` [s]. ``per_kwh`` is
    in the currency of the costs.
    """

    start_s: int
    end_s: int
    per_kwh: float

    @property
    def spans(self) -> tuple[tuple[int, int], ...]:
        """The stretches of a day, as (begin, end). [s]"""
        if self.start_s < self.end_s:
            return ((self.start_s, self.end_s),)
        whole = ((self.start_s, SECONDS_PER_DAY), (0, self.end_s))
        return tuple((begin, end) for begin, end in whole if begin < end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tariff:
    """The price of power: the same at all hours, or by hours of a clock. It has no gap and no overlap."""

    hours: tuple[PricedHours, ...]
    clock: ClockKind = ClockKind.CIVIL

    @property
    def is_flat(self) -> bool:
        """True if all hours have one price."""
        return len({each.per_kwh for each in self.hours}) == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Labour:
    """What it costs to fit tubes, in the currency of the costs: for each date, and for each tube."""

    each_date: float = 0.0
    each_tube: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What things cost: the currency of all prices (ISO 4217), the price of power, and labour, if told."""

    currency: str
    tariff: Tariff | None = None
    labour: Labour | None = None

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("costs",)
