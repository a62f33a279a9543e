"""Where a tank stands, and the sky of somewhere else that it may borrow, as values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the tank stands; north and east are positive."""

    latitude_deg: float
    longitude_deg: float
    time_zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BorrowedSky:
    """The sky of somewhere else, moved to other hours.

    ``noon_s`` is when its mean noon is here, in seconds from midnight, standard time; None leaves it
    where it is. ``season_share`` is the share of its seasons that is kept.
    """

    latitude_deg: float
    longitude_deg: float
    noon_s: int | None = None
    season_share: float = 1.0
