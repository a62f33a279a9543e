"""What is true of the sky in these tests: skyfield on the ephemeris DE421 of the JPL.

It shares no formula with the code under test: that has Meeus' short series for the sun and XEphem's
libastro for the moon, this has a numerical integration of the planets and rotates the earth by
IAU 2000 (B. Rhodes, skyfield; W. M. Folkner et al., "The planetary and lunar ephemeris DE 421", 2009).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

from photoperiod.arrays import Floats

#: Name, latitude, longitude [deg] and zone. The equator, both tropics, the edges of the zones and of
#: the date line, places inside both polar circles, and every odd kind of clock.
SITES = (
    ("Quito", 0.0, -78.50, "America/Guayaquil"),
    ("Havana", 23.13, -82.38, "America/Havana"),
    ("Sao Paulo", -23.55, -46.63, "America/Sao_Paulo"),
    ("Tokyo", 35.68, 139.69, "Asia/Tokyo"),
    ("New York", 40.71, -74.01, "America/New_York"),
    ("Kashgar", 39.47, 75.99, "Asia/Shanghai"),
    ("Berlin", 52.52, 13.40, "Europe/Berlin"),
    ("Helsinki", 60.17, 24.94, "Europe/Helsinki"),
    ("Rovaniemi", 66.60, 25.70, "Europe/Helsinki"),
    ("Tromso", 69.65, 18.96, "Europe/Oslo"),
    ("Longyearbyen", 78.22, 15.65, "Arctic/Longyearbyen"),
    ("Sydney", -33.87, 151.21, "Australia/Sydney"),
    ("Lord Howe", -31.55, 159.08, "Australia/Lord_Howe"),
    ("Ushuaia", -54.80, -68.30, "America/Argentina/Ushuaia"),
    ("McMurdo", -77.85, 166.67, "Antarctica/McMurdo"),
    ("Taveuni", -16.85, 179.97, "Pacific/Fiji"),
    ("Adak", 51.88, -176.65, "America/Adak"),
    ("Apia", -13.83, -171.76, "Pacific/Apia"),
    ("Kiritimati", 1.87, -157.43, "Pacific/Kiritimati"),
    ("Casablanca", 33.57, -7.59, "Africa/Casablanca"),
)

#: Mean radius of the moon [km], 34' of refraction [deg].
MOON_RADIUS_KM, REFRACTION_DEG = 1737.4, 34 / 60


def unix(year: int, month: int = 1, day: int = 1, hour: int = 0, minute: int = 0,
         second: float = 0.0) -> float:  # fmt: skip
    """Return a moment of UTC. [Unix seconds]"""
    return datetime(year, month, day, hour, minute, tzinfo=UTC).timestamp() + second


@cache
def _ephemeris() -> Any:
    return load_file(str(resources.files("skyfield_data") / "data" / "de421.bsp"))


@cache
def _timescale() -> Any:
    return load.timescale(builtin=True)


def _times(unix_s: Sequence[float] | Floats) -> Any:
    days, seconds = np.divmod(np.asarray(unix_s, dtype=np.float64), 86_400.0)
    return _timescale().utc(1970, 1, 1 + days.astype(int), 0, 0, seconds)


class Truth:
    """The sky over a place at sea level."""

    def __init__(self, latitude_deg: float, longitude_deg: float) -> None:
        self._place = _ephemeris()["earth"] + wgs84.latlon(latitude_deg, longitude_deg)

    def sun_deg(self, unix_s: Sequence[float] | Floats) -> Floats:
        """Return the height of the sun's centre, without refraction. [deg]"""
        return self._altaz("sun", unix_s)[0].degrees

    def moon_deg(self, unix_s: Sequence[float] | Floats) -> Floats:
        """Return the height of the moon's centre, without refraction. [deg]"""
        return self._altaz("moon", unix_s)[0].degrees

    def limb_deg(self, unix_s: Sequence[float] | Floats) -> Floats:
        """Return the height of the moon's upper limb, with 34' of refraction. [deg]"""
        altitude, _, distance = self._altaz("moon", unix_s)
        return (
            altitude.degrees + np.degrees(np.arcsin(MOON_RADIUS_KM / distance.km)) + REFRACTION_DEG
        )

    def _altaz(self, body: str, unix_s: Sequence[float] | Floats) -> Any:
        seen = self._place.at(_times(unix_s)).observe(_ephemeris()[body]).apparent()
        return seen.altaz()

    def passages(self, body: str, is_rising: bool, start: float, stop: float,
                 horizon_deg: float | None = None) -> list[float]:  # fmt: skip
        """Return when a body passes a height, or the horizon of the almanacs. [Unix seconds]"""
        find = almanac.find_risings if is_rising else almanac.find_settings
        begin, end = _times([start])[0], _times([stop])[0]
        found, is_real = find(
            self._place, _ephemeris()[body], begin, end, horizon_degrees=horizon_deg
        )
        return [
            t.timestamp() for t, real in zip(found.utc_datetime(), is_real, strict=True) if real
        ]


def moon_fraction(unix_s: Sequence[float] | Floats) -> Floats:
    """Return the lit share of the moon's disc, from the earth's centre."""
    seen = _ephemeris()["earth"].at(_times(unix_s)).observe(_ephemeris()["moon"])
    return np.asarray(seen.fraction_illuminated(_ephemeris()["sun"]))


def paired(
    ours: Sequence[float], truths: Sequence[float], most_s: float
) -> tuple[list[tuple[float, float]], list[float], list[float]]:
    """Return the events in both lists, those missed and those invented.

    Both lists are in order; two events are the same if they are within ``most_s`` of each other.
    """
    same: list[tuple[float, float]] = []
    missed: list[float] = []
    invented: list[float] = []
    mine, true = list(ours), list(truths)
    while mine and true:
        if abs(mine[0] - true[0]) <= most_s:
            same.append((mine.pop(0), true.pop(0)))
        elif mine[0] < true[0]:
            invented.append(mine.pop(0))
        else:
            missed.append(true.pop(0))
    return same, missed + true, invented + mine


def is_graze(height_deg: Floats, tolerance_deg: float) -> bool:
    """True if a curve has a turning point within the tolerance of zero."""
    inner = height_deg[1:-1]
    is_turn = (inner - height_deg[:-2]) * (inner - height_deg[2:]) >= 0
    return bool((np.abs(inner[is_turn]) < tolerance_deg).any())
