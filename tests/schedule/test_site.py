from __future__ import annotations

from photoperiod.schedule.site import BorrowedSky, Place


def test_a_borrowed_sky_stays_as_it_is_unless_it_is_moved() -> None:
    sky = BorrowedSky(latitude_deg=-8.5, longitude_deg=179.2)
    assert sky.noon_s is None
    assert sky.season_share == 1.0


def test_places_with_the_same_values_are_the_same() -> None:
    here = Place(latitude_deg=38.1, longitude_deg=-29.5, time_zone="Atlantic/Azores")
    assert here == Place(latitude_deg=38.1, longitude_deg=-29.5, time_zone="Atlantic/Azores")
    assert hash(here) == hash(
        Place(latitude_deg=38.1, longitude_deg=-29.5, time_zone="Atlantic/Azores")
    )
