"""Where the moon stands over a place, when it rises and sets, and how bright it is.

ephem (XEphem's libastro) computes the geocentric places of the moon and the sun every three hours;
they are interpolated here. The rotation of the earth and the step from its centre to the place are
computed here too, for all moments at once: seen from a place the moon stands up to a degree lower than
from the centre. Compared with the ephemeris DE421, moonrise and moonset are right within a second up to
60 deg of latitude, and heights within 0.005 deg everywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import ephem
import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.sky.crossings import crossings
from photoperiod.sky.interpolation import Interpolation
from photoperiod.sky.sun import JULIAN_DAY_OF_UNIX_EPOCH, check_place
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Calendar years for which the moon is computed. Outside them the rotation of the earth is known less
#: well.
FIRST_YEAR, LAST_YEAR = 1900, 2100

_FIRST_UNIX_S = datetime(FIRST_YEAR, 1, 1, tzinfo=UTC).timestamp()
_STOP_UNIX_S = datetime(LAST_YEAR + 1, 1, 1, tzinfo=UTC).timestamp()

#: Refraction at the horizon [deg], 34'. USNO, "Rise, Set, and Twilight Definitions".
REFRACTION_DEG = 34.0 / 60.0

#: Mean radius of the moon. [km] IAU Working Group on Cartographic Coordinates, report of 2009.
MOON_RADIUS_KM = 1_737.4

#: Earth's equatorial radius [km] and flattening. World Geodetic System 1984.
EARTH_RADIUS_KM = 6_378.137
EARTH_FLATTENING = 1.0 / 298.257223563

#: Astronomical unit. [km] IAU 2012, Resolution B2.
AU_KM = 149_597_870.7

#: ephem counts days from noon of 1899-12-31. [Julian days]
JULIAN_DAY_OF_EPHEM = 2_415_020.0

#: Time between moments that ephem computes; the moon moves by 1.6 deg in it.
SAMPLE_STEP_S = 3 * SECONDS_PER_HOUR


def mean_sidereal_time_deg(unix_s: Floats) -> Floats:
    """Return the mean sidereal time at Greenwich, not reduced to 0 to 360. [deg]

    References
    ----------
    J. Meeus, Astronomical Algorithms, 2nd ed. (1998), equation 12.4 (IAU 1982). UTC is taken for UT1,
    from which it differs by less than 0.9 s.
    """
    days = unix_s / SECONDS_PER_DAY + (JULIAN_DAY_OF_UNIX_EPOCH - 2_451_545.0)
    century = days / 36_525.0
    turns = 360.98564736629 * days + (0.000387933 - century / 38_710_000.0) * century**2
    return 280.46061837 + turns


def _sample(unix_s: float) -> tuple[float, ...]:
    """Return the geocentric moon [km], sun [km] and the equation of the equinoxes [deg].

    The places are rectangular, on the true equator and equinox of date.
    """
    date = unix_s / SECONDS_PER_DAY + (JULIAN_DAY_OF_UNIX_EPOCH - JULIAN_DAY_OF_EPHEM)
    greenwich = ephem.Observer()
    greenwich.date = date
    apparent_deg = math.degrees(float(greenwich.sidereal_time()))
    mean_deg = float(mean_sidereal_time_deg(np.array(unix_s)))
    equinoxes_deg = (apparent_deg - mean_deg + 180.0) % 360.0 - 180.0
    return *_place(ephem.Moon(date)), *_place(ephem.Sun(date)), equinoxes_deg


def _place(body: ephem.Body) -> tuple[float, float, float]:
    """Return the geocentric place of a body on the true equator and equinox of date: x, y, z. [km]"""
    distance_km = float(body.earth_distance) * AU_KM
    ascension, declination = float(body.g_ra), float(body.g_dec)
    across_km = distance_km * math.cos(declination)
    return (
        across_km * math.cos(ascension),
        across_km * math.sin(ascension),
        distance_km * math.sin(declination),
    )


_SAMPLES = Interpolation(_sample, SAMPLE_STEP_S)


@dataclass(frozen=True, slots=True)
class Moon:
    """The moon over a place at sea level, in the years `FIRST_YEAR` to `LAST_YEAR`.

    Other years raise ValueError.

    Parameters
    ----------
    latitude_deg : float
        Geodetic, north positive, -90 to 90. [deg]
    longitude_deg : float
        East positive, -180 to 180. [deg]
    """

    latitude_deg: float
    longitude_deg: float

    def __post_init__(self) -> None:
        check_place(self.latitude_deg, self.longitude_deg)

    def altitude_deg(self, unix_s: Floats) -> Floats:
        """Return the height of the moon's centre seen from the place, without refraction.

        Parameters
        ----------
        unix_s : ndarray, any shape
            Moments. [Unix seconds]

        Returns
        -------
        ndarray, the same shape
            Negative below the horizon. [deg]
        """
        _check_years(unix_s)
        return self._altitude_and_radius_deg(unix_s)[0]

    def is_up(self, unix_s: Floats) -> Bools:
        """Return whether the upper limb is above the horizon at moments, as for `rises`, in their shape."""
        _check_years(unix_s)
        return self._limb_deg(unix_s) > -REFRACTION_DEG

    def rises(self, start_unix_s: float, stop_unix_s: float) -> list[float]:
        """Return when the upper limb appears on the horizon, in [start, stop). [Unix seconds]

        The refraction is that of the almanacs, 34'; the parallax and the radius are those of the
        moment.
        """
        return self._limb_passages(start_unix_s, stop_unix_s, is_rising=True)

    def sets(self, start_unix_s: float, stop_unix_s: float) -> list[float]:
        """Return when the upper limb leaves the horizon, in [start, stop). [Unix seconds]"""
        return self._limb_passages(start_unix_s, stop_unix_s, is_rising=False)

    def _limb_passages(
        self, start_unix_s: float, stop_unix_s: float, *, is_rising: bool
    ) -> list[float]:
        """Return when the upper limb passes the horizon one way, in [start, stop). [Unix seconds]"""
        _check_years(np.array([start_unix_s, stop_unix_s]))
        found = crossings(self._limb_deg, start_unix_s, stop_unix_s, -REFRACTION_DEG)
        return [each.unix_s for each in found if each.is_rising is is_rising]

    def _limb_deg(self, unix_s: Floats) -> Floats:
        """Return the height of the moon's upper limb. [deg]"""
        altitude_deg, radius_deg = self._altitude_and_radius_deg(unix_s)
        return altitude_deg + radius_deg

    def _altitude_and_radius_deg(self, unix_s: Floats) -> tuple[Floats, Floats]:
        """Return the height of the centre and the apparent radius, from the place. [deg]

        References
        ----------
        J. Meeus, Astronomical Algorithms, 2nd ed. (1998), chapters 11 (the place) and 40.
        """
        moon = _SAMPLES.at(unix_s)
        latitude = math.radians(self.latitude_deg)
        sine, cosine = math.sin(latitude), math.cos(latitude)
        squared = EARTH_FLATTENING * (2.0 - EARTH_FLATTENING)
        across_km = EARTH_RADIUS_KM / math.sqrt(1.0 - squared * sine**2)
        sidereal = np.radians(mean_sidereal_time_deg(unix_s) + moon[6] + self.longitude_deg)
        # From the place: x towards the meridian's equator point, y east, z north along the axis.
        x = moon[0] * np.cos(sidereal) + moon[1] * np.sin(sidereal) - across_km * cosine
        y = moon[1] * np.cos(sidereal) - moon[0] * np.sin(sidereal)
        z = moon[2] - across_km * (1.0 - squared) * sine
        up = x * cosine + z * sine
        north = z * cosine - x * sine
        distance_km = np.sqrt(x * x + y * y + z * z)
        altitude = np.arctan2(up, np.hypot(north, y))
        return np.degrees(altitude), np.degrees(np.arcsin(MOON_RADIUS_KM / distance_km))


def phase_angle_deg(unix_s: Floats) -> Floats:
    """Return the angle sun-moon-earth, from the earth's centre: 0 full, 180 new.

    Parameters
    ----------
    unix_s : ndarray, any shape
        Moments. [Unix seconds]

    Returns
    -------
    ndarray, the same shape
        0 to 180. [deg]
    """
    _check_years(unix_s)
    places = _SAMPLES.at(unix_s)
    to_earth, to_sun = -places[0:3], places[3:6] - places[0:3]
    beside = np.linalg.norm(np.cross(to_earth, to_sun, axis=0), axis=0)
    angle_deg: Floats = np.degrees(np.arctan2(beside, (to_earth * to_sun).sum(axis=0)))
    return angle_deg


def illuminated_fraction(phase_angle_deg: float) -> float:
    """Return the lit share of the moon's disc at a phase angle. [fraction]

    Parameters
    ----------
    phase_angle_deg : float
        0 full, 180 new. [deg]

    References
    ----------
    J. Meeus, Astronomical Algorithms, 2nd ed. (1998), equation 48.1.
    """
    return (1.0 + math.cos(math.radians(phase_angle_deg))) / 2.0


def phase_brightness(phase_angle_deg: Floats) -> Floats:
    """Return the brightness of the moon relative to a full one.

    It falls faster than the lit share: a half moon gives 9 % of the light of a full one.

    Parameters
    ----------
    phase_angle_deg : ndarray, any shape
        0 full, 180 new. [deg]

    References
    ----------
    C. W. Allen, Astrophysical Quantities, 3rd ed. (1973); K. Krisciunas and B. E. Schaefer, "A model
    of the brightness of moonlight", Publications of the Astronomical Society of the Pacific
    103:1033–1039 (1991): V = -12.73 + 0.026 |α| + 4e-9 α⁴ magnitudes.
    """
    angle = np.abs(phase_angle_deg)
    return np.asarray(10.0 ** (-0.4 * (0.026 * angle + 4e-9 * angle**4)))


def _check_years(unix_s: Floats) -> None:
    """Raise ValueError if a moment lies outside the years for which the moon is computed."""
    if unix_s.size and not (unix_s.min() >= _FIRST_UNIX_S and unix_s.max() <= _STOP_UNIX_S):
        raise ValueError(f"the moon is computed for the years {FIRST_YEAR} to {LAST_YEAR} only")
