"""The schedule as frozen values. Every node knows its origin, the path it came from in the file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from photoperiod.curves.curve import Curve, Signal
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.depreciation import Depreciation
from photoperiod.drive.grid import LevelGrid, RelayMode, TimeGrid

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the tank stands."""

    latitude_deg: float
    longitude_deg: float
    time_zone: str
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class BorrowedSky:
    """The sky of somewhere else, moved to other hours.

    ``noon_s`` is when its mean noon is here, in seconds from midnight, standard time; None leaves it
    where it is. ``season_share`` is the share of its seasons that is kept.
    """

    latitude_deg: float
    longitude_deg: float
    noon_s: int | None
    season_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Seasons:
    """How many dated tables days that change are fitted into.

    As few as keep the errors: of light [share of the channel's brightest], where it may come somewhat
    earlier or later [s], and of dose [share]; or a number.
    """

    light_error: float = 0.05
    time_error_s: int = 300
    dose_error: float = 0.05
    tables: int | None = None


class DayFault(Exception):
    """A day of some date can't be built; the diagnostics say why."""

    def __init__(self, diagnostics: list[Diagnostic]) -> None:
        super().__init__(diagnostics)
        self.diagnostics = diagnostics


class DayRule(Protocol):
    """What a channel does on a date, where that follows the sky."""

    def trains(self, sky: Almanac, date: dt.date) -> tuple[Signal, ...]:
        """Return what begins to shine on a date; DayFault where that can't be."""
        ...

    @property
    def has_moon(self) -> bool:
        """True if there is a moon by phase."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """What the controller holds and how it plays a table.

    ``most_volts`` is the top of the output port [V], ``sink_milliamps`` what the port can sink [mA]
    or None if it was not said; ``channels`` is the number of outputs or None;
    ``rounding_is_stated`` tells that the file says how the controller rounds;
    ``soft_start_minutes`` is what our own player takes from the floor to the top.
    """

    label: str
    clock: str
    channels: int | None
    setpoints_per_channel: int
    shared_times: bool
    dose_within: float
    tables: int
    times: TimeGrid
    levels: LevelGrid
    relay: RelayMode
    converter: Converter
    most_volts: float
    sink_milliamps: float | None
    rounding_is_stated: bool
    soft_start_minutes: int
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Watts:
    """Mains power of one ballast [W]."""

    full: float
    floor: float
    dark: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ballast:
    """A kind of ballast: its light curve and what it draws."""

    id: str
    label: str
    curve: BallastCurve
    control_milliamps: float
    watts: Watts | None
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """One tube, with the hours it had when it was fitted.

    ``light_share`` is its part of the channel's light beside the other tubes', in any unit.
    """

    id: str
    label: str
    watts: float
    fitted: dt.datetime | None
    lit_hours: float
    burn_in_full_hours: float
    replace_after_hours: float | None
    depreciation: Depreciation | None
    light_share: float
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A place where animals live, and what they should and must not get.

    ``peak_rise_max`` is the greatest rise of the day's peak PPFD over the day before. [share]
    """

    id: str
    label: str
    dli_band: tuple[float, float] | None
    ppfd_max: float | None
    ek_ppfd: float | None
    ppfd_rise_per_minute_max: float | None
    dark_hours_min: float
    peak_rise_max: float
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """What one output drives.

    ``full_ppfd`` maps zone ids to the PPFD of this channel alone at full [µmol m⁻² s⁻¹]. ``curve``
    is its light on every date, None if it follows the sky: then ``rule`` tells it for each.
    ``moonlight`` is the most light of its moonlight, None without; ``safe_light`` what our own player
    gives in its safe state, 0 for dark [fraction of full].
    """

    id: str
    label: str
    ballast: Ballast
    ballast_count: int
    weight: float
    tubes: tuple[Tube, ...]
    full_ppfd: Mapping[str, float]
    measured_on: dt.date | None
    curve: Curve | None
    rule: DayRule | None
    moonlight: float | None
    safe_light: float
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A hard finding that the schedule accepts by name; empty sets mean all."""

    finding: str
    channels: frozenset[str]
    zones: frozenset[str]
    because: str
    origin: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A whole schedule without a fault of form or meaning."""

    title: str
    place: Place | None
    sky: BorrowedSky | None
    plan_clock: str
    spread_minutes: float | None
    seasons: Seasons
    controller: Controller
    ballasts: Mapping[str, Ballast]
    tubes: Mapping[str, Tube]
    zones: Mapping[str, Zone]
    channels: Mapping[str, Channel]
    burn_in: str
    acceptances: tuple[Acceptance, ...]
    digest: str

    @property
    def follows_sky(self) -> bool:
        """True if the day of some channel is another on each date."""
        return any(channel.rule is not None for channel in self.channels.values())

    @property
    def has_one_clock(self) -> bool:
        """True if the times of the plan are those of the controller."""
        return self.plan_clock == self.controller.clock and self.spread_minutes is None

    @property
    def needs_dates(self) -> bool:
        """True if no day is like another: the sky is followed, or clocks differ."""
        return self.follows_sky or not self.has_one_clock
