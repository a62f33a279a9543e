"""The moon against published examples, almanacs and an independent ephemeris."""

from __future__ import annotations

import math
import re
import time
from datetime import UTC, datetime
from importlib import resources

import ephem
import numpy as np
import pytest

from photoperiod.arrays import Floats
from photoperiod.sky.moon import (
    FIRST_YEAR,
    LAST_YEAR,
    REFRACTION_DEG,
    Moon,
    illuminated_fraction,
    mean_sidereal_time_deg,
    phase_angle_deg,
    phase_brightness,
)
from tests.sky.truth import SITES, Truth, is_graze, moon_fraction, paired, unix

#: Moonrise and moonset up to 60 deg of latitude.
TWENTY_SECONDS = 20.0

#: True height of the limb at the moments found, elsewhere.
ALTITUDE_DEG = 0.02

#: Between interpolated heights and ephem's own: less than the equation of the equinoxes moves them.
ENGINE_DEG = 0.0005

#: Between those heights and skyfield's.
CENTRE_DEG = 0.005

#: Lit share of the disc.
FRACTION = 0.001

#: A table of almanac prints whole minutes.
HALF_A_MINUTE = 30.0

#: Two passages of one kind are never this near to each other. [s]
ONE_HOUR = 3_600.0

#: Dynamical time less universal time in 1992, as in Meeus, table 10.A (from memory). [s]
DELTA_T_1992_S = 59.0


# --- the height -----------------------------------------------------------------------------------


def test_heights_are_those_of_ephem_at_a_thousand_moments() -> None:
    random = np.random.default_rng(20_260_102)
    for number in range(1_000):
        latitude, longitude = random.uniform(-90.0, 90.0), random.uniform(-180.0, 180.0)
        fortnight = unix(FIRST_YEAR) + (LAST_YEAR - FIRST_YEAR) * 365.25 / 40 * 86_400 * (
            number % 40
        )
        moment = fortnight + random.uniform(0.0, 14 * 86_400)
        observer = ephem.Observer()
        observer.lat, observer.lon = math.radians(latitude), math.radians(longitude)
        observer.pressure, observer.elevation = 0.0, 0.0
        observer.date = moment / 86_400 + 25_567.5  # of 1970-01-01, counted from noon of 1899-12-31
        expected = math.degrees(ephem.Moon(observer).alt)
        found = Moon(latitude, longitude).altitude_deg(np.array([moment]))[0]
        assert found == pytest.approx(expected, abs=ENGINE_DEG)


@pytest.mark.parametrize("site", SITES[::4], ids=[site[0] for site in SITES[::4]])
def test_heights_are_those_of_skyfield(site: tuple[str, float, float, str]) -> None:
    _, latitude, longitude, _ = site
    moments = unix(2026) + np.arange(500) * 126_000.0
    found = Moon(latitude, longitude).altitude_deg(moments)
    assert found == pytest.approx(Truth(latitude, longitude).moon_deg(moments), abs=CENTRE_DEG)


def test_sidereal_time_of_meeus() -> None:
    # J. Meeus, Astronomical Algorithms, 2nd ed. (1998), examples 12.a and 12.b (p. 88): 1987-04-10 0h UT
    # 13h10m46.3668s, 19h21m UT 8h34m57.0896s.
    moments = np.array([unix(1987, 4, 10), unix(1987, 4, 10, 19, 21)])
    seconds = [13 * 3_600 + 10 * 60 + 46.3668, 8 * 3_600 + 34 * 60 + 57.0896]
    found = mean_sidereal_time_deg(moments) % 360.0 * 240.0
    assert found == pytest.approx(seconds, abs=1e-3)


def test_the_place_of_meeus_seen_from_the_poles() -> None:
    # Example 47.a (p. 342): 1992-04-12 0h TD, declination 13.768367°, parallax 0.991990°. At a pole the
    # earth's radius is 1/0.99664719 short of the equator's (ch. 11), so there the height h has
    # tan h = (sin δ ∓ 0.99664719 sin π) / cos δ.
    moment = np.array([unix(1992, 4, 12) - DELTA_T_1992_S])
    declination, parallax = math.radians(13.768367), math.radians(0.991990)
    for sign in (1.0, -1.0):
        up = sign * math.sin(declination) - 0.99664719 * math.sin(parallax)
        expected = math.degrees(math.atan2(up, math.cos(declination)))
        assert Moon(sign * 90.0, 0.0).altitude_deg(moment)[0] == pytest.approx(expected, abs=0.001)


def test_a_year_of_minutes_is_quick() -> None:
    moments = np.arange(unix(2031), unix(2032), 60.0)
    begin = time.perf_counter()
    Moon(52.52, 13.40).altitude_deg(moments)
    assert time.perf_counter() - begin < 4.0  # measured 0.4 s; the margin is for busy machines


# --- rise and set ---------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(len(SITES)), ids=[site[0] for site in SITES])
def test_rises_and_sets_of_a_year_against_skyfield(number: int) -> None:
    # 2027 at half of the sites and 2026 at the others, every rise and set of the year.
    _, latitude, longitude, _ = SITES[number]
    start, stop = unix(2027 - number % 2), unix(2028 - number % 2)
    moon, truth = Moon(latitude, longitude), Truth(latitude, longitude)
    for is_rising in (True, False):
        ours = (moon.rises if is_rising else moon.sets)(start, stop)
        theirs = truth.passages("moon", is_rising, start, stop)
        same, missed, invented = paired(ours, theirs, ONE_HOUR)
        assert len(same) > 90
        assert np.abs(truth.limb_deg(ours)).max() < ALTITUDE_DEG
        if abs(latitude) <= 60.2:
            assert max(abs(mine - true) for mine, true in same) < TWENTY_SECONDS
            assert missed == invented == []
        assert len(missed) + len(invented) <= 1
        for moment in missed + invented:
            around = truth.limb_deg(moment + np.arange(-3_600.0, 3_601.0, 60.0))
            # skyfield's search itself loses a short night of the moon, though its heights show it.
            is_real = moment in invented and around.min() < 0 < around.max()
            assert is_real or is_graze(around, ALTITUDE_DEG)


def riset_table() -> dict[str, list[float]]:
    """Return rises and sets of the USNO's "Rise and Set for the Moon for 1984, Boston".

    The ephem library carries it along for its own tests. Eastern Standard Time, whole minutes.
    """
    path = resources.files("ephem").joinpath("tests", "usno", "riset_moon.txt")
    result: dict[str, list[float]] = {"rise": [], "set": []}
    for line in path.read_text(encoding="utf-8").splitlines():
        if not re.match(r"\d\d  ", line):
            continue
        for month in range(1, 13):
            begin = 4 + 11 * (month - 1)
            for name, text in (
                ("rise", line[begin : begin + 4]),
                ("set", line[begin + 5 : begin + 9]),
            ):
                if text.strip():
                    midnight = unix(1984, month, int(line[:2])) + 5 * 3_600
                    minutes = 60 * int(text[:2]) + int(text[2:])
                    result[name].append(midnight + 60 * minutes)
    return {name: sorted(times) for name, times in result.items()}


def test_a_year_of_the_usno() -> None:
    # The place is printed to whole minutes of arc, which are 4 s of time.
    table = riset_table()
    assert min(len(times) for times in table.values()) > 350
    moon, start = Moon(42 + 19 / 60, -(71 + 5 / 60)), unix(1984) + 5 * 3_600
    for found, name in ((moon.rises, "rise"), (moon.sets, "set")):
        times = found(start, start + 366 * 86_400)
        assert times == pytest.approx(table[name], abs=HALF_A_MINUTE + TWENTY_SECONDS)


def test_a_month_of_the_usno_in_alaska() -> None:
    # "Moon, Fairbanks, Alaska, W147°45′ N64°48′36″, zone 8h west", June and July 2006, as carried along in
    # the ephem library: rise, transit and set.
    path = resources.files("ephem").joinpath("tests", "usno", "risettran_moon.txt")
    moon, count = Moon(64 + 48.6 / 60, -147.75), 0
    for line in path.read_text(encoding="utf-8").splitlines():
        if not re.match(r"\d{4} ", line):
            continue
        midnight = (
            datetime.strptime(line[:11], "%Y %b %d").replace(tzinfo=UTC).timestamp() + 8 * 3_600
        )
        for found, text in ((moon.rises, line[25:30]), (moon.sets, line[59:64])):
            times = found(midnight, midnight + 86_400)
            expected = []  # blank, or stars on dates on which the moon stays up
            if text.strip(" *"):
                expected = [midnight + 3_600 * int(text[:2]) + 60 * int(text[3:])]
            assert times == pytest.approx(expected, abs=HALF_A_MINUTE + TWENTY_SECONDS)
            count += len(times)
    assert count > 25


# --- phase ----------------------------------------------------------------------------------------


def lit_share(unix_s: Floats) -> Floats:
    """Return the lit share of the disc at moments."""
    return np.array([illuminated_fraction(float(angle)) for angle in phase_angle_deg(unix_s)])


def test_the_phase_of_meeus() -> None:
    # Example 48.a (p. 347): 1992-04-12 0h TD, phase angle 69.0756°, lit share 0.6786.
    moment = np.array([unix(1992, 4, 12) - DELTA_T_1992_S])
    assert phase_angle_deg(moment)[0] == pytest.approx(69.0756, abs=0.01)
    assert lit_share(moment)[0] == pytest.approx(0.6786, abs=1e-4)


def test_the_new_moon_of_meeus() -> None:
    # Example 49.a (p. 353): new moon 1977-02-18 03:37:42 TD, 03:36:54 UT. It is when the longitudes are
    # equal; the lit share is least up to half an hour from that, as the moon's orbit is inclined by 5.1°.
    moments = unix(1977, 2, 18, 3, 36, 54) + np.arange(-7_200.0, 7_201.0, 60.0)
    least = lit_share(moments).argmin()
    assert abs(moments[least] - moments[120]) < 1_800


def test_shares_of_the_usno() -> None:
    # USNO, "Fraction of the Moon Illuminated", 2018-09-09 to 18 at 05h UT, as quoted in skyfield's
    # test_almanac.py: two decimals.
    moments = np.array([unix(2018, 9, day, 5) for day in range(9, 19)])
    printed = [0.00, 0.00, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62]
    assert lit_share(moments) == pytest.approx(printed, abs=0.005 + FRACTION)


def test_phases_of_the_usno() -> None:
    # "1980 Phases of the Moon", USNO, as carried along in the ephem library. At the quarters, by
    # definition 90° from the sun in longitude, cos i is the moon's distance in the sun's (Meeus, eq.
    # 48.3 with ψ = 90°), 384,400/149.6e6 km; so the lit share is 0.5013. New and full moon are up to
    # 5.3° from the sun and its opposite.
    path = resources.files("ephem").joinpath("tests", "usno", "moon_phases.txt")
    columns: tuple[list[float], ...] = ([], [], [], [])
    for line in path.read_text(encoding="utf-8").splitlines():
        for column, times in enumerate(columns):
            cell = line[16 * column : 16 * column + 16].split()
            if len(cell) == 4 and cell[1].isdigit():
                day = datetime.strptime(f"1980 {cell[0]} {cell[1]}", "%Y %b %d").replace(tzinfo=UTC)
                times.append(day.timestamp() + 3_600 * int(cell[2]) + 60 * int(cell[3]))
    new, first, full, last = (lit_share(np.array(times)) for times in columns)
    assert [len(times) for times in columns] == [12, 12, 13, 13]
    assert new.max() < 0.0022
    assert full.min() > 0.9978
    for quarter in (first, last):
        assert quarter == pytest.approx(np.full(quarter.shape, 0.5013), abs=FRACTION)


def test_lit_shares_are_those_of_skyfield() -> None:
    moments = unix(2026) + np.arange(730 * 2) * 43_200.0
    assert lit_share(moments) == pytest.approx(moon_fraction(moments), abs=FRACTION)


def test_brightness_by_phase() -> None:
    # C. W. Allen, Astrophysical Quantities, 3rd ed. (1973); Krisciunas and Schaefer, PASP 103:1033 (1991):
    # 0.026 |α| + 4e-9 α⁴ magnitudes: 0.262 + 2.34 = 2.6024 at 90°, 1.61184 at 60°; 0.4 of that as a
    # power of ten is 9.1 % and 22.7 %.
    found = phase_brightness(np.array([0.0, 60.0, -60.0, 90.0, 180.0]))
    assert found[:4] == pytest.approx([1.0, 0.227, 0.227, 0.091], abs=5e-4)
    assert found[4] < 0.001


# --- limits ---------------------------------------------------------------------------------------


def test_other_years_are_refused() -> None:
    moon = Moon(0.0, 0.0)
    early, late = unix(FIRST_YEAR) - 1, unix(LAST_YEAR + 1) + 1
    for moment in (early, late, math.nan):
        for function in (moon.altitude_deg, moon.is_up, phase_angle_deg):
            with pytest.raises(ValueError, match="for the years 1900 to 2100 only"):
                function(np.array([moment]))
    with pytest.raises(ValueError, match="for the years 1900 to 2100 only"):
        moon.rises(early, early + 86_400)
    with pytest.raises(ValueError, match="for the years 1900 to 2100 only"):
        moon.sets(late - 86_400, late)
    assert len(moon.rises(unix(LAST_YEAR, 12, 1), unix(LAST_YEAR + 1))) in (29, 30)
    assert len(moon.sets(unix(FIRST_YEAR), unix(FIRST_YEAR, 2))) in (29, 30)


def test_no_moments_give_no_values() -> None:
    assert Moon(0.0, 0.0).altitude_deg(np.zeros(0)).shape == (0,)
    assert phase_angle_deg(np.zeros((0, 3))).shape == (0, 3)


@pytest.mark.parametrize(("latitude", "longitude"), [(91.0, 0.0), (0.0, 181.0)])
def test_places_off_the_earth_are_refused(latitude: float, longitude: float) -> None:
    with pytest.raises(ValueError, match="deg, not from"):
        Moon(latitude, longitude)


@pytest.mark.parametrize("latitude", [90.0, -90.0])
def test_the_poles(latitude: float) -> None:
    # The moon is up for about half of each month: 13 times a year, or one more or less.
    moon, truth = Moon(latitude, 0.0), Truth(latitude, 0.0)
    for found in (moon.rises(unix(2026), unix(2027)), moon.sets(unix(2026), unix(2027))):
        assert len(found) in (13, 14)
        assert np.abs(truth.limb_deg(found)).max() < ALTITUDE_DEG


def test_the_refraction_is_that_of_the_almanacs() -> None:
    # USNO, "Rise, Set, and Twilight Definitions".
    assert math.isclose(REFRACTION_DEG * 60, 34.0)


@pytest.mark.slow
def test_what_the_brightest_night_of_a_month_gives() -> None:
    # The page of `full_light_percent` says 81 to 100 %. The lit share is from skyfield, the phase law of
    # Krisciunas and Schaefer (1991) is written again; nights have their middle at any hour of UTC.
    hours = np.arange(unix(2030), unix(2040), 3_600.0)
    angle = np.degrees(2 * np.arcsin(np.sqrt(1 - moon_fraction(hours))))
    bright = 10 ** (-0.4 * (0.026 * angle + 4e-9 * angle**4))
    nights = bright[: bright.size // 24 * 24].reshape(-1, 24)
    is_best = (nights[1:-1] >= nights[:-2]) & (nights[1:-1] > nights[2:])
    best = nights[1:-1][is_best]
    assert best.size == pytest.approx(24 * 10 * 365.25 / 29.53, rel=0.01)  # one a month
    assert best.min() == pytest.approx(0.81, abs=0.01)
    assert best.max() == pytest.approx(1.0, abs=0.005)
