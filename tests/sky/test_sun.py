"""The sun against published examples, almanacs and an independent ephemeris."""

from __future__ import annotations

import math
import re
import time
from datetime import UTC, date, datetime, timedelta
from importlib import resources
from zoneinfo import ZoneInfo

import astral
import astral.sun
import numpy as np
import pytest

from photoperiod.sky.clock import Clock
from photoperiod.sky.sun import EVENTS, HORIZON_DEG, Sun, light_of_altitude
from tests.sky.truth import SITES, Truth, is_graze, paired, unix

#: Heights by astral are this near to those of DE421. Its declination and equation of time leave out
#: what Meeus' chapter 25 leaves out.
ALTITUDE_DEG = 0.02

#: Sunrise and sunset up to 60 deg of latitude.
TEN_SECONDS = 10.0

#: A table of almanac prints whole minutes.
HALF_A_MINUTE = 30.0

#: Between interpolated heights and astral's own.
ENGINE_DEG = 0.001

#: Sites whose events are always compared; of the others the long sweeps see them. Both circles, both halves.
QUICK = ("Quito", "New York", "Rovaniemi", "Lord Howe", "McMurdo")

#: Two passages of one kind are never this near to each other. [s]
ONE_HOUR = 3_600.0


# --- the height -----------------------------------------------------------------------------------


def test_heights_are_those_of_astral_at_a_thousand_moments() -> None:
    random = np.random.default_rng(20_260_101)
    for _ in range(1_000):
        latitude, longitude = random.uniform(-89.7, 89.7), random.uniform(-180.0, 180.0)
        moment = int(random.uniform(unix(1950), unix(2080)))  # astral drops parts of a second
        expected = astral.sun.elevation(
            astral.Observer(latitude, longitude, 0.0),
            datetime.fromtimestamp(moment, UTC),
            with_refraction=False,
        )
        found = Sun(latitude, longitude).altitude_deg(np.array([float(moment)]))[0]
        assert found == pytest.approx(expected, abs=ENGINE_DEG)


def test_the_example_of_the_solar_position_algorithm() -> None:
    # I. Reda and A. Andreas, "Solar Position Algorithm for Solar Radiation Applications",
    # NREL/TP-560-34302 (2008), table A5.1: 2003-10-17 12:30:30 at UTC−7, 39.742476 N 105.1786 W,
    # 820 mbar, 11 °C: zenith angle 50.111622°, in which equation 42 has lifted the sun by
    # (P/1010) (283/(273+T)) 1.02 / (60 tan(e0 + 10.3/(e0 + 5.11))).
    apparent = 90.0 - 50.111622
    angle = math.radians(apparent + 10.3 / (apparent + 5.11))
    lifted = (820 / 1010) * (283 / (273 + 11)) * 1.02 / (60.0 * math.tan(angle))
    moment = unix(2003, 10, 17, 19, 30, 30)
    found = Sun(39.742476, -105.1786).altitude_deg(np.array([moment]))[0]
    assert found == pytest.approx(apparent - lifted, abs=ALTITUDE_DEG)


def test_sunrise_and_sunset_of_that_example() -> None:
    # The same table: sunrise 06:12:43, sunset 17:20:19 local. The sunset printed is the one of the day
    # before: the algorithm reduces its day fraction to one UTC day (skyfield: 17:20:18.8 on the 16th).
    sun = Sun(39.742476, -105.1786)
    day = unix(2003, 10, 17, 7)
    rises = sun.events("sunrise", day, day + 86_400)
    sets = sun.events("sunset", day - 86_400, day)
    assert rises == pytest.approx([unix(2003, 10, 17, 13, 12, 43)], abs=TEN_SECONDS)
    assert sets == pytest.approx([unix(2003, 10, 17, 0, 20, 19)], abs=TEN_SECONDS)


def test_declination_of_meeus() -> None:
    # J. Meeus, Astronomical Algorithms, 2nd ed. (1998), example 25.a (p. 165): 1992-10-13 0h,
    # declination −7.78507°; 25.b (p. 169), by the full theory: −7.783817°. At a pole the height of the
    # sun is its declination. astral doesn't distinguish dynamical time, nor does this test.
    moment = np.array([unix(1992, 10, 13)])
    assert Sun(90.0, 0.0).altitude_deg(moment)[0] == pytest.approx(-7.78507, abs=1e-4)
    assert Sun(-90.0, 0.0).altitude_deg(moment)[0] == pytest.approx(7.78507, abs=1e-4)
    assert Sun(90.0, 0.0).altitude_deg(moment)[0] == pytest.approx(-7.783817, abs=ALTITUDE_DEG)


def usno_places() -> list[tuple[float, float, float]]:
    """Return moments, declinations [deg] and equations of time [s] of a table of the USNO.

    "Sun, Apparent Geocentric Positions, True Equator and Equinox of Date", 12 dates of 2007, which the
    ephem library carries along for its own tests.
    """
    path = resources.files("ephem").joinpath("tests", "usno", "appgeo_sun.txt")
    rows = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if not re.match(r"\d{4} ", line):
            continue
        day = datetime.strptime(line[:11], "%Y %b %d").replace(tzinfo=UTC)
        signs = [-1.0 if "-" in part else 1.0 for part in (line[38:48], line[64:68])]
        fields = [float(number) for number in re.findall(r"\d+\.?\d*", line[26:])]
        _, _, _, degrees, minutes, seconds, _, equation_min, equation_s = fields
        declination = signs[0] * (degrees + minutes / 60 + seconds / 3_600)
        rows.append((day.timestamp(), declination, signs[1] * (60 * equation_min + equation_s)))
    return rows


def test_declination_and_equation_of_time_of_the_usno() -> None:
    rows = usno_places()
    assert len(rows) == 12
    # The first row as printed: 2007 Sep 25, − 0 37 07.31, + 8 02.5.
    assert rows[0] == (unix(2007, 9, 25), -(37 / 60 + 7.31 / 3600), 482.5)
    for moment, declination_deg, equation_s in rows:
        found = Sun(90.0, 0.0).altitude_deg(np.array([moment]))[0]
        assert found == pytest.approx(declination_deg, abs=ALTITUDE_DEG)
        # True midnight of Greenwich is as much before 0h as the sun is ahead of the mean sun.
        midnights = Sun(0.0, 0.0).midnights(moment - 3_600, moment + 3_600)
        assert midnights == pytest.approx([moment - equation_s], abs=5.0)


def test_a_year_of_minutes_is_quick() -> None:
    moments = np.arange(unix(2031), unix(2032), 60.0)
    begin = time.perf_counter()
    Sun(52.52, 13.40).altitude_deg(moments)
    assert time.perf_counter() - begin < 2.0  # measured 0.1 s; the margin is for busy machines


def test_moments_keep_their_shape() -> None:
    moments = unix(2026) + np.arange(12.0).reshape(3, 4) * 7_200
    table = Sun(10.0, 20.0).altitude_deg(moments)
    assert table.shape == (3, 4)
    assert table[1, 2] == Sun(10.0, 20.0).altitude_deg(moments[1, 2:3])[0]
    assert Sun(10.0, 20.0).altitude_deg(np.zeros((0,))).shape == (0,)


# --- events ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "number",
    [
        pytest.param(number, id=site[0], marks=() if site[0] in QUICK else pytest.mark.slow)
        for number, site in enumerate(SITES)
    ],
)
def test_events_of_a_year_against_skyfield(number: int) -> None:
    # 2026 at half of the sites and 2027 at the others, every event of the year: at half a second
    # a site there is no need to choose days.
    _, latitude, longitude, _ = SITES[number]
    start, stop = unix(2026 + number % 2), unix(2027 + number % 2)
    sun, truth = Sun(latitude, longitude), Truth(latitude, longitude)
    for name, (threshold, is_rising) in EVENTS.items():
        ours = sun.events(name, start, stop)
        theirs = truth.passages("sun", is_rising, start, stop, threshold)
        same, missed, invented = paired(ours, theirs, ONE_HOUR)
        if ours:
            tried = ours[::3] if abs(latitude) < 50 else ours  # lower down times say as much
            assert np.abs(truth.sun_deg(tried) - threshold).max() < ALTITUDE_DEG
        if name in ("sunrise", "sunset") and abs(latitude) <= 60.2:
            assert max(abs(mine - true) for mine, true in same) < TEN_SECONDS
            assert missed == invented == []
        assert len(missed) + len(invented) <= 1  # in 52,184 events there are four such, all missed
        for moment in missed + invented:  # only what grazes the threshold
            around = truth.sun_deg(moment + np.arange(-3_600.0, 3_601.0, 60.0))
            assert is_graze(around - threshold, ALTITUDE_DEG)


# Rows of the U. S. Naval Observatory as quoted in skyfield's test_almanac.py: Bluffton and Defiance,
# Ohio; UTC.
@pytest.mark.parametrize(
    ("latitude", "longitude", "midnight", "rows"),
    [
        (40.8939, -83.8917, (2018, 9, 12), {"sunrise": (11, 13), "sunset": (23, 50)}),
        (
            41.281944,
            -84.362778,
            (2019, 11, 8),
            {
                "astronomical-dawn": (10, 42),
                "nautical-dawn": (11, 15),
                "civil-dawn": (11, 48),
                "sunrise": (12, 17),
                "sunset": (22, 25),
                "civil-dusk": (22, 54),
                "nautical-dusk": (23, 27),
                "astronomical-dusk": (23, 59),
            },
        ),
    ],
    ids=["Bluffton", "Defiance"],
)
def test_rows_of_the_usno(
    latitude: float,
    longitude: float,
    midnight: tuple[int, int, int],
    rows: dict[str, tuple[int, int]],
) -> None:
    # From 6h UTC to 6h of the next day it is one day in Ohio.
    start = unix(*midnight) + 6 * 3_600
    for name, (hour, minute) in rows.items():
        expected = unix(*midnight) + 3_600 * hour + 60 * minute
        found = Sun(latitude, longitude).events(name, start, start + 86_400)
        assert found == pytest.approx([expected], abs=HALF_A_MINUTE + TEN_SECONDS)


def test_a_year_of_the_usno() -> None:
    # "Rise and Set for the Sun for 2007, Atlanta, Georgia", USNO, as carried along in the ephem library;
    # the place is printed to whole minutes of arc, which are 4 s of time.
    path = resources.files("ephem").joinpath("tests", "usno", "riset_sun.txt")
    sun = Sun(33 + 46 / 60, -(84 + 25 / 60))
    start = unix(2007) + 5 * 3_600  # the year in Eastern Standard Time
    expected: dict[str, list[float]] = {"sunrise": [], "sunset": []}
    for line in path.read_text(encoding="utf-8").splitlines():
        if not re.match(r"\d\d  ", line):
            continue
        for month in range(1, 13):
            cell = line[4 + 11 * (month - 1) : 13 + 11 * (month - 1)].split()
            for name, text in zip(expected, cell, strict=False):
                midnight = unix(2007, month, int(line[:2])) + 5 * 3_600
                expected[name].append(midnight + 3_600 * int(text[:2]) + 60 * int(text[2:]))
    for name, times in expected.items():
        assert len(times) == 365
        found = sun.events(name, start, start + 365 * 86_400)
        assert found == pytest.approx(sorted(times), abs=HALF_A_MINUTE + TEN_SECONDS)


def local(name: str, moment: float) -> datetime:
    return datetime.fromtimestamp(moment, ZoneInfo(name))


def test_an_event_that_drifts_across_midnight_utc_is_kept() -> None:
    # Kashgar, 2026-04-30: sunrise at 07:58:47 on clocks of UTC+8, 23:58:47 UTC (skyfield on DE421).
    start, stop = Clock.civil("Asia/Shanghai").day_bounds(date(2026, 4, 30))
    found = Sun(39.47, 75.99).events("sunrise", start, stop)
    assert found == pytest.approx([unix(2026, 4, 29, 23, 58, 47)], abs=TEN_SECONDS)


@pytest.mark.parametrize(
    ("name", "latitude", "longitude"),
    [(zone, latitude, longitude) for _, latitude, longitude, zone in SITES if abs(latitude) < 60],
)
def test_every_date_of_a_clock_has_its_events(name: str, latitude: float, longitude: float) -> None:
    # Dates of 22 to 26 hours, without midnight and with two, at UTC+14 and on the date line; the sun
    # passes each of these exactly once. (At Kashgar and other places far from the middle of their zone
    # midnight of the sun is hours from that of the clock, and still comes once a day.)
    sun, clock = Sun(latitude, longitude), Clock.civil(name)
    days = [date(2026, 1, 1) + timedelta(days=k) for k in range(0, 365, 11)]
    changes = clock.changes(int(unix(2026)), int(unix(2027)))
    days += [clock.wall_of(change.at_unix_s)[0] for change in changes]
    for day in days:
        start, stop = clock.day_bounds(day)
        for event in ("sunrise", "noon", "sunset"):
            assert len(sun.events(event, start, stop)) == 1, (day, event)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(69.65, 18.96), (66.6, 25.7), (-77.85, 166.67)]
)
def test_polar_days_and_nights_are_those_of_skyfield(latitude: float, longitude: float) -> None:
    # Tromsø, Rovaniemi and McMurdo, every fourth UTC date of a year: what the true height does in steps
    # of half an hour, in which it turns by less than 0.05 deg; left out where that leaves a doubt.
    sun, truth = Sun(latitude, longitude), Truth(latitude, longitude)
    seen: dict[str, int] = {}
    for day in range(0, 365, 4):
        start = unix(2026) + day * 86_400
        height = truth.sun_deg(start + np.arange(49) * 1_800.0) - HORIZON_DEG
        if min(abs(height.min()), abs(height.max())) < 0.05 + ALTITUDE_DEG:
            continue
        state = "up" if height.min() > 0 else "down" if height.max() < 0 else "changes"
        assert sun.state(start, start + 86_400, HORIZON_DEG) == state
        seen[state] = seen.get(state, 0) + 1
    assert seen["changes"] > 20
    assert seen["up"] > 5
    assert ("down" in seen) == (
        abs(latitude) > 67
    )  # at the circle, refraction keeps the sun in sight


@pytest.mark.parametrize("latitude", [90.0, -90.0, 89.9, -89.9])
def test_the_poles(latitude: float) -> None:
    # One day a year. The sun climbs by 0.4 deg a day, so moments are worth little there, heights much.
    sun, truth = Sun(latitude, 30.0), Truth(latitude, 30.0)
    start, stop = unix(2026), unix(2027)
    for event, month in (("sunrise", 3), ("sunset", 9)):
        found = sun.events(event, start, stop)
        if abs(latitude) == 90.0:  # beside a pole the sun goes up and down for some days
            (moment,) = found
            assert datetime.fromtimestamp(moment, UTC).month == (
                month if latitude > 0 else 12 - month
            )
        assert np.abs(truth.sun_deg(found) - HORIZON_DEG).max() < ALTITUDE_DEG
    assert len(sun.noons(start, stop)) == 365
    june = sun.state(unix(2026, 6, 21), unix(2026, 6, 22), HORIZON_DEG)
    december = sun.state(unix(2026, 12, 21), unix(2026, 12, 22), HORIZON_DEG)
    assert (june, december) == (("up", "down") if latitude > 0 else ("down", "up"))


def test_longitudes_180_east_and_west_are_one() -> None:
    east, west = Sun(-16.85, 180.0), Sun(-16.85, -180.0)
    for event in ("sunrise", "noon", "civil-dusk", "midnight"):
        found = east.events(event, unix(2026), unix(2026, 3))
        assert len(found) == 59
        assert found == pytest.approx(west.events(event, unix(2026), unix(2026, 3)), abs=1e-3)


def test_noon_and_midnight_come_from_the_hour_angle() -> None:
    # The equation of time is checked above; here: one noon a day at every latitude, at the same moments
    # whatever the latitude, and midnights half a day from it.
    start, stop = unix(2026), unix(2027)
    noons = Sun(69.65, 18.96).noons(start, stop)
    assert noons == Sun(-89.0, 18.96).noons(start, stop)
    steps = np.diff(noons)
    # The longest and the shortest solar day are 30 s over and 22 s under (Meeus, ch. 28, fig. p. 186;
    # from memory).
    assert 86_375 < steps.min() < 86_381
    assert 86_427 < steps.max() < 86_433
    midnights = Sun(0.0, 18.96).midnights(start, stop)
    both = np.sort(noons + midnights)
    assert np.abs(np.diff(both) - 43_200).max() < 20


def test_an_unknown_event_is_refused() -> None:
    with pytest.raises(ValueError, match="no event 'brunch' of the sun"):
        Sun(0.0, 0.0).events("brunch", unix(2026), unix(2027))


@pytest.mark.parametrize(
    ("latitude", "longitude", "share", "what"),
    [
        (90.1, 0.0, 1.0, "latitude is 90.1 deg, not from -90 to 90"),
        (0.0, -180.5, 1.0, "longitude is -180.5 deg, not from -180 to 180"),
        (math.nan, 0.0, 1.0, "latitude is nan deg, not from -90 to 90"),
        (0.0, 0.0, 1.5, "season_share is 1.5, not from 0 to 1"),
    ],
)
def test_places_off_the_earth_are_refused(
    latitude: float, longitude: float, share: float, what: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(what)):
        Sun(latitude, longitude, share)


# --- why astral's own events are not used ---------------------------------------------------------
# These say what astral 3.2 does. Should one fail, astral has changed, and its events are worth a look.


def test_astral_loses_a_sunrise_at_midnight_utc() -> None:
    kashgar = astral.Observer(39.47, 75.99, 0.0)
    with pytest.raises(ValueError, match="Unable to find a sunrise time"):
        astral.sun.sunrise(kashgar, date(2026, 4, 30), tzinfo=ZoneInfo("Asia/Shanghai"))


def test_astral_gives_noon_of_another_date_at_utc_14() -> None:
    zone = ZoneInfo("Pacific/Kiritimati")
    found = astral.sun.noon(astral.Observer(1.87, -157.43, 0.0), date(2026, 6, 1), tzinfo=zone)
    assert found.date() != date(2026, 6, 1)
    start, stop = Clock.civil("Pacific/Kiritimati").day_bounds(date(2026, 6, 1))
    (noon,) = Sun(1.87, -157.43).noons(start, stop)
    assert local("Pacific/Kiritimati", noon).date() == date(2026, 6, 1)


def test_astral_ends_a_twilight_before_it_begins_in_tokyo() -> None:
    observer, zone = astral.Observer(35.68, 139.69, 0.0), ZoneInfo("Asia/Tokyo")
    begin, end = astral.sun.twilight(observer, date(2026, 6, 1), tzinfo=zone)
    assert end < begin
    start, stop = Clock.civil("Asia/Tokyo").day_bounds(date(2026, 6, 1))
    sun = Sun(35.68, 139.69)
    (dawn,), (sunrise,) = sun.events("civil-dawn", start, stop), sun.events("sunrise", start, stop)
    assert 0 < sunrise - dawn < ONE_HOUR


def test_astral_sets_the_sun_of_tromso_a_day_late() -> None:
    # Near the midnight sun, sunset comes after midnight. astral's date check then gives the next one.
    zone, truth, observer = (
        ZoneInfo("Europe/Oslo"),
        Truth(69.65, 18.96),
        astral.Observer(69.65, 18.96),
    )
    clock, late = Clock.civil("Europe/Oslo"), 0
    for day in [date(2026, 5, 1) + timedelta(days=k) for k in range(90)]:
        start, stop = clock.day_bounds(day)
        theirs = truth.passages("sun", False, start, stop, HORIZON_DEG)
        ours = Sun(69.65, 18.96).events("sunset", start, stop)
        assert len(ours) == len(theirs)
        try:
            found = astral.sun.sunset(observer, day, tzinfo=zone).timestamp()
        except ValueError:
            late += bool(theirs)
        else:
            late += all(abs(found - true) > 600 for true in theirs)
    assert late > 0


def test_astral_s_sunrise_is_that_of_another_horizon() -> None:
    # It takes 16' and a refraction of 0.267 deg, 0.789 deg in all, where almanacs have 0.833.
    found = astral.sun.sunrise(astral.Observer(52.52, 13.40, 0.0), date(2026, 3, 20)).timestamp()
    (true,) = Truth(52.52, 13.40).passages(
        "sun", True, unix(2026, 3, 20), unix(2026, 3, 21), HORIZON_DEG
    )
    assert found - true > TEN_SECONDS


# --- seasons and light ----------------------------------------------------------------------------


def test_the_seasons_can_be_softened() -> None:
    moments = np.array([unix(2026, 6, 21, 8), unix(2026, 12, 21, 20)])  # solstices, at the pole
    whole = Sun(90.0, 0.0).altitude_deg(moments)
    assert whole == pytest.approx([23.44, -23.44], abs=ALTITUDE_DEG)  # obliquity: Meeus, ch. 22
    assert Sun(90.0, 0.0, 0.5).altitude_deg(moments) == pytest.approx(whole / 2)
    assert Sun(90.0, 0.0, 0.0).altitude_deg(moments) == pytest.approx([0.0, 0.0], abs=1e-9)


def test_without_seasons_every_day_is_an_equinox() -> None:
    # At the equator, with declination 0, the sun is over −50′ for 12 h + 2·50′/15° h⁻¹ = 12:06:40 of its
    # own time, which gains or loses up to 30 s a day.
    sun = Sun(0.0, 0.0, 0.0)
    rises = sun.events("sunrise", unix(2026), unix(2027))
    sets = sun.events("sunset", unix(2026), unix(2027))
    lengths = np.array(sets) - np.array(rises)
    assert lengths == pytest.approx(np.full(365, 12 * 3_600 + 400), abs=16.0)


@pytest.mark.parametrize(
    ("latitude", "share", "highest"),
    # 90° − |latitude| + obliquity, 23.436° in 2026 (Meeus, equation 22.2), and 90° between the tropics.
    [
        (52.52, 1.0, 90 - 52.52 + 23.436),
        (-52.52, 1.0, 90 - 52.52 + 23.436),
        (0.0, 1.0, 90.0),
        (23.0, 1.0, 90.0),
        (-23.0, 0.5, 90 - 23 + 23.436 / 2),
        (52.52, 0.0, 90 - 52.52),
        (90.0, 1.0, 23.436),
        (0.0, 0.0, 90.0),
    ],
)
def test_the_highest_sun_of_a_year(latitude: float, share: float, highest: float) -> None:
    found = Sun(latitude, 10.0, share).highest_of_year_deg(2026)
    assert found == pytest.approx(highest, abs=0.005)  # nutation moves the tropics by up to 0.003
    heights = Sun(latitude, 10.0, share).altitude_deg(np.arange(unix(2026), unix(2027), 300.0))
    assert heights.max() <= found + 1e-6
    assert heights.max() > found - 0.7  # the sun is overhead at some noon's side, not at noon


def test_sine_light() -> None:
    found = light_of_altitude(np.array([-10.0, 0.0, 30.0, 90.0]), "sine")
    assert found == pytest.approx([0.0, 0.0, 0.5, 1.0])


def test_clear_sky_light_is_that_of_haurwitz() -> None:
    # B. Haurwitz, Journal of Meteorology 2:154–166 (1945): 1098 cos z exp(−0.059/cos z) W m⁻², as quoted
    # in pvlib.clearsky.haurwitz. At 90°: 1098 e^−0.059 = 1035.09; at 30°: 549 e^−0.118 = 487.89.
    found = light_of_altitude(np.array([-10.0, 0.0, 1e-9, 30.0, 90.0]), "clear-sky")
    assert found == pytest.approx([0.0, 0.0, 0.0, 487.89 / 1035.09, 1.0], rel=1e-4)


def test_an_unknown_light_is_refused() -> None:
    with pytest.raises(ValueError, match="no light model 'disco'; there are sine, clear-sky"):
        light_of_altitude(np.array([1.0]), "disco")
