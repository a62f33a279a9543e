"""The schedule as frozen values.

Nothing here knows the file: a value's place in it follows from its id, ``("channels", "blue")``. So a
schedule can be built in Python just as well; defaults are those of the language.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from photoperiod.diagnostics.model import Path
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, LevelUnit, RelayMode, Rounding, TimeGrid
from photoperiod.readings.extent import Extent, Statistic
from photoperiod.readings.photon_shares import PhotonShares
from photoperiod.schedule.changes import Change, PlannedDay
from photoperiod.schedule.costs import Costs
from photoperiod.schedule.day_plan import Day, Moonlight, follows_sky
from photoperiod.schedule.digest import digest_of, digest_of_digests
from photoperiod.schedule.moves import Found, MayMove
from photoperiod.schedule.site import BorrowedSky, Place
from photoperiod.schedule.tube import Tube
from photoperiod.sky.clock import ClockKind
from photoperiod.units import CONTROL_MILLIAMPS_PER_BALLAST, CONTROL_VOLTS_FULL

#: The least unbroken night a zone should have [h]. Common practice, no source.
DARK_HOURS_MIN = 8.0

#: The greatest rise of a zone's peak PPFD over the day before [share]. Our choice, no source.
PEAK_RISE_MAX = 0.25

#: The greatest rise of a zone's DLI over the day before [share]. Our choice, no source.
DOSE_RISE_MAX = 0.25

#: By how much the middle of a zone's light may move from one day to the next [s]. Our choice, no source: an
#: hour, as by a change of the clock.
DAY_MOVES_MAX_S = 3600

#: From the floor to the top in a soft start [min]. Our choice, no source.
SOFT_START_MINUTES = 30

#: Levels where the file says nothing of them.
USUAL_LEVELS = LevelGrid(
    unit=LevelUnit.PERCENT, step=Fraction(1), every_seconds=1, rounding=Rounding.HALF_UP
)


class BurnInPolicy(StrEnum):
    """What is done about tubes that owe burn-in."""

    PLAN = "plan"  # their channel's day is run at full and shortened, so that the dose holds
    LEAVE = "leave"  # days stay as they are, and dimming is reported


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedTables:
    """How many dated tables are made where every day is another one.

    Few that keep three errors: of light [share of the channel's brightest], of the time at which that
    light comes [s], and of dose [share]. Or just ``tables`` of them, the best there are. ``moon`` is what is
    asked of the channels that follow the moon, None where that is the same.
    """

    light_error: float = 0.05
    time_error_s: int = 300
    dose_error: float = 0.05
    tables: int | None = None
    moon: DatedTables | None = None

    def of(self, channel: Channel) -> DatedTables:
        """Return what is asked of the tables of a channel."""
        return self.moon if self.moon is not None and channel.follows_moon else self


class LoadedBy(StrEnum):
    """How tables come into the controller."""

    HAND = "hand"
    FILE = "file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """What the controller holds and how it plays a table.

    Parameters
    ----------
    clock : ClockKind
        What its clock shows: standard, civil or UTC.
    channels : int or None
        The number of its outputs, None if unknown.
    setpoints_per_channel : int
        Rows that it holds for one channel.
    shared_times : bool
        True if all channels have the same times of rows.
    dose_within : float
        A fit may change a channel's dose by this share before a better one is looked for.
    tables : int
        Dated tables that it holds at once.
    loaded_by : LoadedBy
        Whether a person types tables in, or it reads a file.
    most_volts : float
        The top of the output port. [V]
    sink_milliamps : float or None
        What the port can sink, None if unknown. [mA]
    rounding_is_stated : bool
        True if the keeper said how the controller rounds; False makes other roundings be checked.
    soft_start_minutes : int
        What our own player takes from the floor to the top. [min]
    """

    clock: ClockKind
    setpoints_per_channel: int
    times: TimeGrid
    relay: RelayMode
    converter: Converter
    levels: LevelGrid = USUAL_LEVELS
    label: str = ""
    channels: int | None = None
    shared_times: bool = False
    dose_within: float = 0.01
    tables: int = 1
    loaded_by: LoadedBy = LoadedBy.HAND
    most_volts: float = CONTROL_VOLTS_FULL
    sink_milliamps: float | None = None
    rounding_is_stated: bool = False
    soft_start_minutes: int = SOFT_START_MINUTES

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("controller",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Watts:
    """Mains power of one ballast [W]."""

    full: float
    floor: float
    dark: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ballast:
    """A kind of ballast: its light curve and its mains power.

    ``control_milliamps`` is what one of them sources into the control port. [mA]
    """

    id: str
    curve: BallastCurve
    label: str = ""
    control_milliamps: float = CONTROL_MILLIAMPS_PER_BALLAST
    watts: Watts | None = None

    def __post_init__(self) -> None:
        _default(self, "label", self.id)

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("ballasts", self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class FromReadings:
    """Which value of a zone's readings stands for what.

    ``limits`` are those that no animal of the zone may see broken: `ppfd_max`, rises, nights, the safe
    state. ``dose`` is the DLI of outputs and of the band's upper end, ``dli_least`` that of its lower end.
    """

    limits: Statistic = Statistic.MOST
    dose: Statistic = Statistic.MEAN
    dli_least: Statistic = Statistic.LEAST


@dataclass(frozen=True, slots=True, kw_only=True)
class PpfdSpread:
    """PPFD of a channel at full in a zone whose points differ. [µmol m⁻² s⁻¹]

    ``limits`` is what limits are held against, ``dli_least`` what the lower end of a band is; for doses
    stands `Channel.full_ppfd`.
    """

    limits: float
    dli_least: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A place in the tank where animals live, and the light that they should and must not get.

    Parameters
    ----------
    dli_band : (float, float) or None
        Least and most light of a day. [mol m⁻² d⁻¹]
    ppfd_max : float or None
        PPFD that must not be exceeded. [µmol m⁻² s⁻¹]
    ek_ppfd : float or None
        PPFD at which photosynthesis begins to saturate. [µmol m⁻² s⁻¹]
    ppfd_rise_per_minute_max : float or None
        [µmol m⁻² s⁻¹ per minute]
    dark_hours_min : float
        The least unbroken night. [h]
    peak_rise_max : float
        The greatest rise of the day's peak PPFD over the day before. [share]
    dose_rise_max : float
        The greatest rise of the DLI over the day before. [share]
    day_moves_max_s : int
        By how much the middle of the day's light may move from the day before. [s]
    extent : Box, PointList or None
        Where it is, for readings with positions; None for readings that name the zone.
    from_readings : FromReadings
        Which value of its readings stands for what.
    wanted_dli : (float, float) or None
        The dose that is asked for, least and most. [mol m⁻² d⁻¹]
    """

    id: str
    label: str = ""
    dli_band: tuple[float, float] | None = None
    ppfd_max: float | None = None
    ek_ppfd: float | None = None
    ppfd_rise_per_minute_max: float | None = None
    dark_hours_min: float = DARK_HOURS_MIN
    peak_rise_max: float = PEAK_RISE_MAX
    dose_rise_max: float = DOSE_RISE_MAX
    day_moves_max_s: int = DAY_MOVES_MAX_S
    extent: Extent = None
    from_readings: FromReadings = FromReadings()
    wanted_dli: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        _default(self, "label", self.id)

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("zones", self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """What one output drives.

    Parameters
    ----------
    ballast, ballast_count : Ballast, int
        The kind of its ballasts, and how many there are on the output.
    weight : float
        How much its errors count beside other channels' where all share their times.
    converter : Converter or None
        What the controller's codes give on its output, None for what the controller's converter says.
    full_ppfd : mapping of str to float
        By zone id, the PPFD of this channel alone at full. [µmol m⁻² s⁻¹]
    ppfd_spread : mapping of str to PpfdSpread
        By zone id, what stands for limits and for the least dose where that is not ``full_ppfd``.
    measured_on : date or None
        When that was measured.
    beyond_readings : tuple of str
        Zones whose light lies beyond all readings at some points: its fall-off was followed there.
    photon_shares : PhotonShares or None
        What its photons are by their wavelengths, None without a spectrum.
    measured_cold : bool
        True if its lamps were not yet warm then: they give more light, so that no limit is shown by it.
    day, moonlight : Day, Moonlight or None
        What it does on a day; where both are lit, the brighter one counts.
    safe_light : float
        What our own player gives in its safe state, 0 for dark. [fraction of full]
    may_move : MayMove or None
        What of its day may be changed so that zones get the doses that they ask for.
    held_within : float or None
        Its light is held while tubes fade: tables change when its dose is below the plan's by more than
        this share. None lets it fade.
    """

    id: str
    ballast: Ballast
    label: str = ""
    ballast_count: int = 1
    weight: float = 1.0
    converter: Converter | None = None
    tubes: tuple[Tube, ...] = ()
    full_ppfd: Mapping[str, float] = field(default_factory=dict)
    ppfd_spread: Mapping[str, PpfdSpread] = field(default_factory=dict)
    measured_on: dt.date | None = None
    beyond_readings: tuple[str, ...] = ()
    photon_shares: PhotonShares | None = None
    measured_cold: bool = False
    day: Day | None = None
    moonlight: Moonlight | None = None
    safe_light: float = 0.0
    may_move: MayMove | None = None
    held_within: float | None = None

    def __post_init__(self) -> None:
        _default(self, "label", self.id)
        _freeze(self, "full_ppfd")
        _freeze(self, "ppfd_spread")

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("channels", self.id)

    @property
    def limit_ppfd(self) -> Mapping[str, float]:
        """By zone id, the PPFD at full that limits are held against. [µmol m⁻² s⁻¹]"""
        spread = self.ppfd_spread
        if not spread:
            return self.full_ppfd
        return {id: spread[id].limits if id in spread else v for id, v in self.full_ppfd.items()}

    @property
    def least_ppfd(self) -> Mapping[str, float]:
        """By zone id, the PPFD at full that tells the least dose. [µmol m⁻² s⁻¹]"""
        spread = self.ppfd_spread
        if not spread:
            return self.full_ppfd
        return {id: spread[id].dli_least if id in spread else v for id, v in self.full_ppfd.items()}

    @property
    def places(self) -> tuple[tuple[Tube, ...], ...]:
        """The places for its tubes: each the tubes that stand there one after the other."""
        lines: dict[str, list[Tube]] = {}
        for tube in self.tubes:
            lines.setdefault(tube.place, []).append(tube)
        return tuple(
            tuple(sorted(line, key=lambda tube: tube.fitted or dt.datetime.min))  # noqa: DTZ901
            for line in lines.values()
        )

    @property
    def tube_watts(self) -> float:
        """Nominal power of its tubes, the last of each place. [W]"""
        return sum(line[-1].watts for line in self.places)

    @property
    def follows_sky(self) -> bool:
        """True if what it does is another thing on each date."""
        return any(follows_sky(plan) for plan in (self.day, self.moonlight) if plan is not None)

    @property
    def follows_moon(self) -> bool:
        """True if the moon makes it brighter or darker."""
        return self.moonlight is not None and self.moonlight.follows_moon


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A hard finding that the schedule accepts by name; empty sets mean all."""

    finding: str
    because: str
    channels: frozenset[str] = frozenset()
    zones: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A whole schedule without a fault of form or meaning.

    Parameters
    ----------
    tank : str
        The id of the tank. Ledgers are kept by it, so it stays while the title and the place change.
    place : Place or None
        Where the tank stands; days that follow the sky, and clocks that differ, need it.
    sky : BorrowedSky or None
        The sky that the plan follows, None for that of the place.
    plan_clock : ClockKind
        What the times of the plan mean: standard, civil or UTC.
    spread_minutes : float or None
        By how many minutes a day a civil plan follows a change of its clock, None for at once. [min]
    ballasts, tubes, zones, channels : mapping of str to Ballast, Tube, Zone, Channel
        By id, in the order of the file.
    costs : Costs or None
        What power costs, and in which currency; None if nothing is told.
    action_spectrum : str
        Where the action spectrum was published by which photons count; empty if there is none.
    file_digest : str
        SHA-256 of the file's bytes, hexadecimal; empty if the schedule comes from no file. It has no
        say in whether two schedules are equal.
    parts_digests : mapping of str to str
        The same of the file of parts, by its name in the file; empty if it names none.
    readings_digests : mapping of str to str
        The same of each file of readings that the file names, by its name there.
    day_plans : mapping of str to mapping of str to PlannedDay
        By id, what channels do instead of their own days, by channel.
    changes : tuple of Change
        What changes over dates, in the order of the file.
    found : Found or None
        What was found for the doses that zones ask for, if the days are no longer those of the file.
    """

    tank: str
    controller: Controller
    ballasts: Mapping[str, Ballast]
    channels: Mapping[str, Channel]
    title: str = ""
    place: Place | None = None
    sky: BorrowedSky | None = None
    plan_clock: ClockKind = ClockKind.STANDARD
    spread_minutes: float | None = None
    dated_tables: DatedTables = DatedTables()
    tubes: Mapping[str, Tube] = field(default_factory=dict)
    zones: Mapping[str, Zone] = field(default_factory=dict)
    burn_in: BurnInPolicy = BurnInPolicy.PLAN
    costs: Costs | None = None
    acceptances: tuple[Acceptance, ...] = ()
    action_spectrum: str = ""
    day_plans: Mapping[str, Mapping[str, PlannedDay]] = field(default_factory=dict)
    changes: tuple[Change, ...] = ()
    file_digest: str = field(default="", compare=False)
    parts_digests: Mapping[str, str] = field(default_factory=dict, compare=False)
    readings_digests: Mapping[str, str] = field(default_factory=dict, compare=False)
    found: Found | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", self.title or self.tank)
        for name in ("ballasts", "tubes", "zones", "channels", "parts_digests", "readings_digests"):
            _freeze(self, name)
        plans = {id: MappingProxyType(dict(plan)) for id, plan in self.day_plans.items()}
        object.__setattr__(self, "day_plans", MappingProxyType(plans))

    @property
    def digest(self) -> str:
        """SHA-256 of the file, or of the values if there is none, hexadecimal.

        Outputs carry it, so that a table can be told to come from a schedule. With a file of parts or of
        readings it is that of all the digests, one a line: the schedule, the parts, then the readings in
        the order of the file.
        """
        others = (*self.parts_digests.values(), *self.readings_digests.values())
        if self.file_digest and others:
            return digest_of_digests((self.file_digest, *others))
        return self.file_digest or digest_of(self)

    @property
    def follows_sky(self) -> bool:
        """True if the day of some channel is another one on each date."""
        return any(channel.follows_sky for channel in self.channels.values()) or any(
            follows_sky(part)
            for plan in self.day_plans.values()
            for planned in plan.values()
            for part in (planned.day, planned.moonlight)
            if part is not None
        )

    @property
    def beyond_readings(self) -> dict[str, tuple[str, ...]]:
        """By channel, the zones whose light lies beyond all readings at some points; empty if none do."""
        return {id: c.beyond_readings for id, c in self.channels.items() if c.beyond_readings}

    @property
    def asks_for_doses(self) -> bool:
        """True if some zone asks for a dose, so that days are to be found."""
        return any(zone.wanted_dli is not None for zone in self.zones.values())

    @property
    def has_one_clock(self) -> bool:
        """True if the times of the plan are those of the controller."""
        return self.plan_clock == self.controller.clock and self.spread_minutes is None

    @property
    def days_differ(self) -> bool:
        """True if no day of the plan is like another: the sky is followed, or clocks differ."""
        return self.follows_sky or not self.has_one_clock

    @property
    def needs_dates(self) -> bool:
        """True if what holds on a day hangs on its date."""
        return self.days_differ or bool(self.changes)


def _default(value: object, name: str, default: Any) -> None:
    """Fill in a field that was left empty; its value is frozen, so this is for `__post_init__`."""
    if not getattr(value, name):
        object.__setattr__(value, name, default)


def _freeze(value: object, name: str) -> None:
    """Make a mapping read-only, a copy of its own; for `__post_init__`."""
    object.__setattr__(value, name, MappingProxyType(dict(getattr(value, name))))
