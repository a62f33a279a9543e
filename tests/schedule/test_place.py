from __future__ import annotations

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.model import DatedTables
from photoperiod.schedule.place import (
    build_dated_tables,
    build_place,
    build_sky,
    build_spread,
    check_clocks,
    plan_clock,
)
from photoperiod.schedule.site import BorrowedSky, Place
from photoperiod.sky.clock import ClockKind
from tests.schedule.bench import findings_of, told, top_of

WEST_OF_LISBON = "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\n"
HERE = Place(latitude_deg=38.1, longitude_deg=-11.5, time_zone="Europe/Lisbon")


def test_a_place() -> None:
    top = top_of(WEST_OF_LISBON)
    findings = findings_of(top)
    assert build_place(top, findings) == HERE
    assert findings == []


@pytest.mark.parametrize(
    ("zone", "help"),
    [
        ("Europe/Lisabon", "did you mean 'Europe/Lisbon'?"),
        ("Europe/Atlantis", "write the zone of a large town near by"),
    ],
)
def test_an_unknown_zone_is_guessed_only_from_a_near_spelling(zone: str, help: str) -> None:
    top = top_of(WEST_OF_LISBON.replace("Europe/Lisbon", zone))
    findings = findings_of(top)
    build_place(top, findings)
    assert told(findings) == [("PHO301", ("place", "time_zone"))]
    assert findings[0].help.startswith(help)


# Noon by the standard time of Lisbon, UTC: 12:00 - longitude × 4 min. West of -52.5° it is after 15:30,
# east of 30° before 10:00.
@pytest.mark.parametrize(
    ("longitude", "is_told"), [(-52.4, False), (-52.6, True), (29.9, False), (30.1, True)]
)
def test_a_longitude_far_from_its_zone_is_told(longitude: float, is_told: bool) -> None:
    top = top_of(WEST_OF_LISBON.replace("-11.5", str(longitude)))
    findings = findings_of(top)
    build_place(top, findings)
    assert told(findings) == ([("PHO333", ("place", "longitude"))] if is_told else [])


def test_a_borrowed_sky_takes_from_the_place_what_it_leaves_out() -> None:
    top = top_of(WEST_OF_LISBON + 'sky: {latitude: -17.5, noon_at: "13:30", seasons_percent: 50}\n')
    assert build_sky(top, HERE, findings_of(top)) == BorrowedSky(
        latitude_deg=-17.5, longitude_deg=-11.5, noon_s=13 * 3600 + 1800, season_share=0.5
    )
    assert build_sky(top_of(WEST_OF_LISBON), HERE, findings_of(top)) is None


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("sky: {latitude: 5}\n", [("PHO329", ("sky",))]),
        ("sky: {latitude: 5}\nplace: 5\n", []),  # the place has a fault of its own
    ],
)
def test_a_borrowed_sky_needs_a_place(text: str, found: list[tuple[str, Path]]) -> None:
    top = top_of(text)
    findings = findings_of(top)
    with pytest.raises(AlreadyReported):
        build_sky(top, None, findings)
    assert told(findings) == found


def test_dated_tables_by_errors_or_by_number() -> None:
    top = top_of("dated_tables: {light_error_percent: 2, time_error_minutes: 1.5}\n")
    assert build_dated_tables(top, findings_of(top)) == DatedTables(
        light_error=0.02, time_error_s=90
    )
    top = top_of("dated_tables: {tables: 12}\n")
    assert build_dated_tables(top, findings_of(top)) == DatedTables(tables=12)
    both = top_of("dated_tables: {tables: 12, dose_error_percent: 5}\n")
    findings = findings_of(both)
    with pytest.raises(AlreadyReported):
        build_dated_tables(both, findings)
    assert told(findings) == [("PHO330", ("dated_tables", "dose_error_percent"))]


def test_dated_tables_of_the_sun_and_the_moon_apart() -> None:
    top = top_of("dated_tables: {sun: {tables: 12}, moon: {dose_error_percent: 30}}\n")
    assert build_dated_tables(top, findings_of(top)) == DatedTables(
        tables=12, moon=DatedTables(dose_error=0.3)
    )
    alone = top_of("dated_tables: {moon: {tables: 8}}\n")
    assert build_dated_tables(alone, findings_of(alone)) == DatedTables(moon=DatedTables(tables=8))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("dated_tables: {sun: {tables: 12}, time_error_minutes: 2}\n",
         ("PHO330", ("dated_tables", "time_error_minutes"))),
        ("dated_tables: {moon: {tables: 12}, tables: 2}\n", ("PHO330", ("dated_tables", "tables"))),
        ("dated_tables: {sun: {tables: 12, light_error_percent: 2}}\n",
         ("PHO330", ("dated_tables", "sun", "light_error_percent"))),
        ("controller: {shared_times: true}\ndated_tables: {moon: {tables: 12}}\n",
         ("PHO339", ("dated_tables", "moon"))),
    ],
)  # fmt: skip
def test_dated_tables_that_can_not_be_asked_so(text: str, found: tuple[str, Path]) -> None:
    top = top_of(text)
    findings = findings_of(top)
    with pytest.raises(AlreadyReported):
        build_dated_tables(top, findings)
    assert told(findings) == [found]


def test_only_a_civil_plan_can_be_spread() -> None:
    key = "clock_change_minutes_per_day"
    civil = top_of(f"plan_clock: civil\n{key}: 10\n")
    assert build_spread(civil, findings_of(civil)) == 10.0
    none = top_of("plan_clock: civil\n")
    assert build_spread(none, findings_of(none)) is None
    standard = top_of(f"{key}: 10\n")
    findings = findings_of(standard)
    with pytest.raises(AlreadyReported):
        build_spread(standard, findings)
    assert told(findings) == [("PHO331", (key,))]
    assert plan_clock(standard) is ClockKind.STANDARD and plan_clock(civil) is ClockKind.CIVIL


@pytest.mark.parametrize(
    ("plan", "controller", "place", "is_told"),
    [
        ("standard", "standard", "", False),
        ("civil", "standard", "", True),
        ("standard", "utc", "", True),
        ("civil", "standard", WEST_OF_LISBON, False),
    ],
)
def test_clocks_that_differ_need_a_place(
    plan: str, controller: str, place: str, is_told: bool
) -> None:
    top = top_of(f"plan_clock: {plan}\ncontroller: {{clock: {controller}}}\n{place}")
    findings = findings_of(top)
    check_clocks(top, findings)
    assert told(findings) == ([("PHO329", ("controller", "clock"))] if is_told else [])
