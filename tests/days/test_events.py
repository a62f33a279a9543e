"""Events on a date, under a sky whose events are given by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import pytest

from photoperiod.days.events import SkyTimes
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import ClockTime, Event
from photoperiod.schedule.findings import Findings
from photoperiod.sky.kinds import SunEvent

H, DAY = 3600, 86_400
DATE = dt.date(2027, 3, 2)
AT = ("channels", "blue", "day", "dawn", "start")


class HandMadeSky:
    """Days of 24 hours; noon at 12:00; each event at given hours of each date, or on no date."""

    def __init__(self, hours: Mapping[str, float], *, above: bool = False) -> None:
        self.hours, self.above = dict(hours), above

    def midnight(self, date: dt.date) -> int:
        return (date - DATE).days * DAY

    def at_clock(self, date: dt.date, second: int) -> int:
        return second

    def noon_of(self, date: dt.date) -> int:
        return 12 * H

    def event_of(self, name: str, date: dt.date) -> int | None:
        return None if name not in self.hours else round(self.hours[name] * H)

    def is_above(self, name: str, date: dt.date) -> bool:
        return self.above

    def instants(self, name: str, begin: int, end: int) -> list[int]:
        found = [round(self.hours[name] * H) + n * DAY for n in range(-2, 4)]
        return [each for each in found if begin <= each < end]


def times(*, above: bool = False, **hours: float) -> SkyTimes:
    return SkyTimes(HandMadeSky(hours, above=above), DATE)  # type: ignore[arg-type]


def clock(hour: float) -> ClockTime:
    return ClockTime(round(hour * H))


def sunset(**more: object) -> Event:
    return Event(name=SunEvent.SUNSET, **more)  # type: ignore[arg-type]


def sunrise(**more: object) -> Event:
    return Event(name=SunEvent.SUNRISE, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("event", "hour"),
    [
        (sunset(), 18),
        (sunset(offset_s=1800), 18.5),
        (sunset(offset_s=-1800), 17.5),
        (sunset(not_before=clock(19)), 19),
        (sunset(not_before=clock(17)), 18),
        (sunset(not_after=clock(17)), 17),
        (sunset(not_after=clock(19)), 18),
        (sunset(offset_s=7200, not_after=clock(19)), 19),  # bounds are of the time with its offset
        (sunset(not_before=clock(6.5)), 18),  # and 06:30, six hours before noon, is not
        (sunset(not_before=clock(0.5)), 24.5),  # of a sunset, 00:30 is after midnight
        (sunrise(not_after=clock(23)), -1),  # of a sunrise, 23:00 is before midnight
        (sunrise(not_after=clock(17)), 6),
        (sunrise(not_before=clock(17.9)), 17.9),
    ],
)
def test_the_event_of_a_date_with_its_bounds(event: Event, hour: float) -> None:
    found = times(sunset=18, sunrise=6).first(event, AT, Findings())
    assert found == round(hour * H)


@pytest.mark.parametrize(
    ("above", "more", "hour"),
    [
        (False, {"if_none": clock(15)}, 15),
        (True, {"if_none": clock(15)}, 15),
        (True, {"if_none": clock(15), "if_sun_stays_up": clock(20)}, 20),
        (False, {"if_none": clock(15), "if_sun_stays_up": clock(20)}, 15),
        (False, {"if_sun_stays_down": clock(14)}, 14),
        (True, {"if_sun_stays_down": clock(14)}, None),
        (False, {}, None),
        # what stands in for the event is not moved, and has no bounds
        (False, {"if_none": clock(15), "offset_s": 3600, "not_before": clock(16)}, 15),
    ],
)
def test_what_counts_where_the_event_does_not_happen(
    above: bool, more: dict[str, object], hour: float | None
) -> None:
    findings = Findings()
    if hour is not None:
        assert times(above=above).first(sunset(**more), AT, findings) == hour * H
        return
    with pytest.raises(AlreadyReported):
        times(above=above).first(sunset(**more), AT, findings)
    (fault,) = findings
    assert (fault.code, fault.path) == ("PHO801", AT)
    assert fault.message == "there is no sunset on 2027-03-02"


@pytest.mark.parametrize(("after", "hour"), [(17.9, 18), (18, 42), (20, 42)])
def test_the_next_event_is_of_the_date_or_the_next_one(after: float, hour: float) -> None:
    found = times(sunset=18).after(sunset(), round(after * H), AT, Findings())
    assert found == hour * H


def test_an_end_more_than_a_day_later_is_refused() -> None:
    findings = Findings()
    with pytest.raises(AlreadyReported):
        times(sunset=18).after(sunset(), -7 * H, AT, findings)  # 25 hours before it
    assert [(each.code, each.path) for each in findings] == [("PHO305", AT)]


def test_a_night_may_end_with_the_next_sunrise_but_a_day_may_not() -> None:
    findings = Findings()
    sky = times(sunrise=6, sunset=18)
    # light from 20:00; its own sunset was at 18:00, the next is after a sunrise
    with pytest.raises(AlreadyReported):
        sky.refuse_crossing(sunset(), 20 * H, 42 * H, AT, findings)
    assert [(each.code, each.path) for each in findings] == [("PHO303", AT)]
    sky.refuse_crossing(sunset(), 9 * H, 18 * H, AT, findings)
    sky.refuse_crossing(sunrise(), 20 * H, 30 * H, AT, findings)  # no other sunrise in between
    assert len(findings) == 1


def test_the_clock_is_that_of_the_sky() -> None:
    assert times().at_clock(30 * H) == 30 * H
