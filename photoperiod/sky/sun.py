"""Where the sun stands over a place, when it passes given heights, and how much light it gives.

astral computes the sun's declination and the equation of time (formulas of Meeus, Astronomical
Algorithms, chapter 25, as in NOAA's solar calculator). astral's own functions for sunrise, dusk and so
on are not used: they miss events that drift across midnight UTC or happen near polar days, and their
thresholds are not those of almanacs.

Heights are geometric: of the sun's centre, without refraction. The thresholds of sunrise and sunset
hold the usual refraction at the horizon. Compared with the ephemeris DE421 the height is right within
0.02 deg; that is ten seconds for sunrise and sunset up to 60 deg of latitude.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType

import numpy as np
from astral.julian import julianday_to_juliancentury
from astral.sun import eq_of_time, sun_declination

from photoperiod.arrays import Bools, Floats
from photoperiod.sky.crossings import crossings
from photoperiod.sky.interpolation import Interpolation
from photoperiod.sky.kinds import SunModel
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

#: Height of the sun's centre at sunrise and sunset [deg]: 34' of refraction and 16' of radius.
#: USNO, "Rise, Set, and Twilight Definitions".
HORIZON_DEG = -50.0 / 60.0

#: Events named in almanacs: height of the sun's centre [deg], and whether it rises through it.
#: USNO, "Rise, Set, and Twilight Definitions".
EVENTS: Mapping[str, tuple[float, bool]] = MappingProxyType(
    {
        "astronomical-dawn": (-18.0, True),
        "nautical-dawn": (-12.0, True),
        "civil-dawn": (-6.0, True),
        "sunrise": (HORIZON_DEG, True),
        "sunset": (HORIZON_DEG, False),
        "civil-dusk": (-6.0, False),
        "nautical-dusk": (-12.0, False),
        "astronomical-dusk": (-18.0, False),
    }
)

#: Absorption of Haurwitz's clear sky, W m⁻² = 1098 sin h exp(−0.059 / sin h).
#: B. Haurwitz, Journal of Meteorology 2:154–166 (1945) and 3:123–124 (1946), with the constants as
#: quoted in the pvlib library (`pvlib.clearsky.haurwitz`).
HAURWITZ_ABSORPTION = 0.059

#: The Unix epoch, 1970-01-01 00:00 UTC. [Julian days]
JULIAN_DAY_OF_UNIX_EPOCH = 2_440_587.5

#: Time in which the sky turns by one degree, on the mean sun. [s/deg]
SECONDS_PER_DEGREE = SECONDS_PER_DAY / 360.0

#: Time between moments that astral computes; the error of the cubics between them is below 1e-7 deg.
SAMPLE_STEP_S = 6 * SECONDS_PER_HOUR


def _declination_and_equation(unix_s: float) -> tuple[float, float]:
    """Return the sun's declination [deg] and the equation of time [s]."""
    julian_day = JULIAN_DAY_OF_UNIX_EPOCH + unix_s / SECONDS_PER_DAY
    century = julianday_to_juliancentury(julian_day)
    return sun_declination(century), SECONDS_PER_MINUTE * eq_of_time(century)


_SAMPLES = Interpolation(_declination_and_equation, SAMPLE_STEP_S)


@dataclass(frozen=True, slots=True)
class Sun:
    """The sun over a place at sea level.

    Parameters
    ----------
    latitude_deg : float
        Geodetic, north positive, -90 to 90. [deg]
    longitude_deg : float
        East positive, -180 to 180. [deg]
    season_share : float
        What is left of the seasons: the declination is this share of what it is. 1 leaves them as
        they are, 0 makes every day an equinox. [fraction]
    """

    latitude_deg: float
    longitude_deg: float
    season_share: float = 1.0

    def __post_init__(self) -> None:
        check_place(self.latitude_deg, self.longitude_deg)
        if not 0.0 <= self.season_share <= 1.0:
            raise ValueError(f"season_share is {self.season_share}, not from 0 to 1")

    def altitude_deg(self, unix_s: Floats) -> Floats:
        """Return the height of the sun's centre above the horizon, without refraction.

        Parameters
        ----------
        unix_s : ndarray, any shape
            Moments. [Unix seconds]

        Returns
        -------
        ndarray, the same shape
            Negative below the horizon. [deg]

        References
        ----------
        J. Meeus, Astronomical Algorithms, 2nd ed. (1998), equation 13.6.
        """
        declination_deg, equation_s = _SAMPLES.at(unix_s)
        declination = np.radians(self.season_share * declination_deg)
        solar_s = unix_s % SECONDS_PER_DAY + equation_s + self.longitude_deg * SECONDS_PER_DEGREE
        hour_angle = np.radians(solar_s / SECONDS_PER_DEGREE - 180.0)
        latitude = math.radians(self.latitude_deg)
        sine = math.sin(latitude) * np.sin(declination) + (
            math.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
        )
        altitude_deg: Floats = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
        return altitude_deg

    def is_up(self, unix_s: Floats) -> Bools:
        """Return whether the sun is up, as for sunrise and sunset; the shape is that of the moments.

        Its middle is then above the height that `EVENTS` has for sunrise. [Unix seconds]
        """
        return self.altitude_deg(unix_s) > HORIZON_DEG

    def noons(self, start_unix_s: float, stop_unix_s: float) -> list[float]:
        """Return when the sun stands in the meridian, within [start, stop). [Unix seconds]

        These are the moments of hour angle 0, not of the greatest height nor the middles of the
        days; so there is one every day, at every latitude.
        """
        return self._transits(start_unix_s, stop_unix_s, SECONDS_PER_DAY // 2)

    def midnights(self, start_unix_s: float, stop_unix_s: float) -> list[float]:
        """Return when the sun stands opposite its noon, within [start, stop). [Unix seconds]"""
        return self._transits(start_unix_s, stop_unix_s, 0)

    def _transits(self, start_unix_s: float, stop_unix_s: float, solar_s: int) -> list[float]:
        """Return when it is a given true solar time, within [start, stop). [Unix seconds]"""
        offset_s = solar_s - self.longitude_deg * SECONDS_PER_DEGREE
        first = math.floor((start_unix_s - offset_s) / SECONDS_PER_DAY) - 1
        last = math.ceil((stop_unix_s - offset_s) / SECONDS_PER_DAY) + 1
        mean: Floats = np.arange(first, last + 1, dtype=np.float64) * SECONDS_PER_DAY + offset_s
        time = mean
        for _ in range(4):  # the equation changes by 30 s a day at most: each turn adds 3 digits
            time = mean - _SAMPLES.at(time)[1]
        return [float(t) for t in time if start_unix_s <= t < stop_unix_s]

    def events(self, name: str, start_unix_s: float, stop_unix_s: float) -> list[float]:
        """Return when a named event happens within [start, stop), in order. [Unix seconds]

        Parameters
        ----------
        name : str
            One of `EVENTS`, or ``noon`` or ``midnight`` of the true sun.
        start_unix_s, stop_unix_s : float
            [Unix seconds]

        Raises
        ------
        ValueError
            If there is no such event.
        """
        if name == "noon":
            return self.noons(start_unix_s, stop_unix_s)
        if name == "midnight":
            return self.midnights(start_unix_s, stop_unix_s)
        if name not in EVENTS:
            raise ValueError(f"no event {name!r} of the sun")
        threshold_deg, is_rising = EVENTS[name]
        return self.passages(threshold_deg, is_rising, start_unix_s, stop_unix_s)

    def passages(
        self, threshold_deg: float, is_rising: bool, start_unix_s: float, stop_unix_s: float
    ) -> list[float]:
        """Return when the sun passes a height one way, within [start, stop), in order. [Unix seconds]"""
        found = crossings(self.altitude_deg, start_unix_s, stop_unix_s, threshold_deg)
        return [each.unix_s for each in found if each.is_rising is is_rising]

    def state(self, start_unix_s: float, stop_unix_s: float, threshold_deg: float) -> str:
        """Return whether the sun is ``up`` or ``down`` all the time, or ``changes``.

        Up is at or above the threshold. With that of sunrise, a day of 24 hours that is up
        throughout is a polar day, and one that is down throughout a polar night.
        """
        found = crossings(self.altitude_deg, start_unix_s, stop_unix_s, threshold_deg)
        if any(each.unix_s > start_unix_s for each in found):
            return "changes"
        middle = np.array([(start_unix_s + stop_unix_s) / 2.0])
        return "up" if self.altitude_deg(middle)[0] >= threshold_deg else "down"

    def highest_of_year_deg(self, year: int) -> float:
        """Return the greatest height the sun can have at noon in a calendar year (UTC). [deg]

        It is 90 if the sun passes overhead, whether or not at the hour of a noon.
        """
        south, north = (self.season_share * each for each in _declinations_of_year_deg(year))
        return 90.0 - abs(self.latitude_deg - min(max(self.latitude_deg, south), north))


@functools.lru_cache(maxsize=16)
def _declinations_of_year_deg(year: int) -> tuple[float, float]:
    """Return the southernmost and the northernmost declination of a calendar year (UTC). [deg]"""
    start = datetime(year, 1, 1, tzinfo=UTC).timestamp()
    stop = datetime(year + 1, 1, 1, tzinfo=UTC).timestamp()
    declination_deg = _SAMPLES.at(np.arange(start, stop, SECONDS_PER_HOUR))[0]
    return float(declination_deg.min()), float(declination_deg.max())


def check_place(latitude_deg: float, longitude_deg: float) -> None:
    """Raise ValueError if there is no such place: latitude north, longitude east positive. [deg]"""
    if not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(f"latitude is {latitude_deg} deg, not from -90 to 90")
    if not -180.0 <= longitude_deg <= 180.0:
        raise ValueError(f"longitude is {longitude_deg} deg, not from -180 to 180")


def light_of_altitude(altitude_deg: Floats, model: SunModel) -> Floats:
    """Return the light of the sun on level ground, relative to a sun overhead.

    Parameters
    ----------
    altitude_deg : ndarray, any shape
        Height of the sun. [deg]
    model : SunModel
        How the light depends on the height.

    Returns
    -------
    ndarray, the same shape
        0 with the sun at or below the horizon, 1 with the sun overhead. [fraction]

    References
    ----------
    B. Haurwitz, "Insolation in Relation to Cloudiness and Cloud Density", Journal of Meteorology
    2:154–166 (1945), as quoted in the pvlib library.
    """
    sine = np.maximum(np.sin(np.radians(altitude_deg)), 0.0)
    if model == SunModel.SINE:
        return sine
    if model != SunModel.CLEAR_SKY:
        raise ValueError(f"no light model {model!r}; there are {', '.join(SunModel)}")
    is_up = sine > 0.0
    path = 1.0 / np.where(is_up, sine, 1.0) - 1.0
    return np.where(is_up, sine * np.exp(-HAURWITZ_ABSORPTION * path), 0.0)
