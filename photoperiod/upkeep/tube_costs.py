"""What the tubes cost that are fitted within some dates."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.program.model import Program
from photoperiod.schedule.tube import Tube


@dataclass(frozen=True, slots=True)
class TubeCosts:
    """Tubes that are fitted within the dates, in the order of time, and those of them without a price."""

    fitted: tuple[Tube, ...]
    without_price: tuple[str, ...]

    @property
    def total(self) -> float | None:
        """What they cost; None if a price is missing. [currency]"""
        return None if self.without_price else sum(tube.price or 0.0 for tube in self.fitted)


def tube_costs(program: Program, year: int | None = None, month: int | None = None) -> TubeCosts:
    """Return the tubes that are fitted within a program's dates, or within a year or a month of them."""
    span = program.span
    dated = [
        (tube.fitted, tube)
        for use in program.tubes.values()
        if (tube := use.tube).fitted is not None
        and span is not None
        and span.first <= tube.fitted.date() <= span.last
        and year in (None, tube.fitted.year)
        and month in (None, tube.fitted.month)
    ]
    fitted = tuple(tube for _, tube in sorted(dated, key=lambda each: (each[0], each[1].id)))
    return TubeCosts(fitted, tuple(tube.id for tube in fitted if tube.price is None))
