"""What may move so that zones get the doses that are asked for, and what was found, as values."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.drive.grid import Row
from photoperiod.schedule.day_plan import Ramps


@dataclass(frozen=True, slots=True, kw_only=True)
class MayMove:
    """What of a channel's day may be changed.

    Parameters
    ----------
    peak_light : (float, float) or None
        Bounds of the brightest peak; the other peaks keep their share of it. [fraction of full]
    day_s : (int, int) or None
        Bounds of the time from the first light to the last. Both ends move by the same time; ramps keep
        their lengths, and later peaks their times. [s]
    together_with : str
        The channel to whose peaks its own keep their ratio, by id; empty for none.
    """

    peak_light: tuple[float, float] | None = None
    day_s: tuple[int, int] | None = None
    together_with: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundDose:
    """The dose of a zone by the table of the day that was found.

    ``wanted`` is what the zone asks for, least and most; ``dose`` is that of the table by the plan on the
    first date, and ``within`` how far outside it may be. [mol m⁻² d⁻¹]
    """

    zone: str
    wanted: tuple[float, float]
    dose: float
    within: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundDay:
    """The day of a channel as the file has it, and as it was found."""

    channel: str
    asked: Ramps
    found: Ramps


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRows:
    """Rows of a channel's table that were moved for a dose.

    ``fitted`` is the table of its day, and ``moved`` what takes its place wherever it comes out.
    """

    channel: str
    fitted: tuple[Row, ...]
    moved: tuple[Row, ...]

    @property
    def count(self) -> int:
        """How many rows are others."""
        return sum(a != b for a, b in zip(self.fitted, self.moved, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What was found for the doses that are asked for: doses, and the days and rows that are others now.

    ``is_beside_changes`` is True if the schedule has changes over dates. The doses are without them.
    """

    doses: tuple[FoundDose, ...]
    days: tuple[FoundDay, ...]
    rows: tuple[FoundRows, ...] = ()
    is_beside_changes: bool = False
