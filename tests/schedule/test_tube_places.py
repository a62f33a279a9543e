"""Places of a channel through time: which tube stands where when, and what is not declared."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.drive.depreciation import Depreciation, DepreciationKind
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import (
    Measured,
    check_places,
    left_at,
    measured,
    stood_on,
    worn_light,
)
from tests.schedule.test_model import PAIR, smallest

#: From 100 % at 100 h down to 60 % at 8,100 h: 5 % each 1,000 h.
LOSS = Depreciation(kind=DepreciationKind.POINTS, hours=(100.0, 8100.0), light=(1.0, 0.6))


def at(month: int, day: int, hour: int = 10) -> dt.datetime:
    return dt.datetime(2027, month, day, hour)


def on(month: int, day: int) -> dt.date:
    return dt.date(2027, month, day)


OLD = Tube(id="old", watts=54, place="left", fitted=at(1, 1), depreciation=LOSS)
NEW = Tube(id="new", watts=54, place="left", fitted=at(3, 2), depreciation=LOSS)
RIGHT = Tube(id="right", watts=54)


def channel(*tubes: Tube, measured_on: dt.date | None = None) -> Channel:
    return Channel(id="blue", ballast=PAIR, tubes=tubes, measured_on=measured_on)


def test_tubes_with_one_place_are_a_line_by_the_dates_of_their_fitting() -> None:
    assert channel(NEW, RIGHT, OLD).places == ((OLD, NEW), (RIGHT,))
    without = Tube(id="first", watts=54, place="left")
    assert channel(NEW, without).places == ((without, NEW),)
    assert RIGHT.place == "right"


@pytest.mark.parametrize(
    ("date", "ids"),
    [
        (on(1, 1), ["old"]),
        (on(3, 1), ["old"]),
        (on(3, 2), ["old", "new"]),
        (on(3, 3), ["new"]),
        (dt.date(2026, 12, 31), []),
    ],
)
def test_who_stands_in_a_place_on_a_date(date: dt.date, ids: list[str]) -> None:
    assert [tube.id for tube in stood_on((OLD, NEW), date)] == ids


def test_a_tube_leaves_when_it_is_removed_or_the_next_is_fitted() -> None:
    early = replace(OLD, removed=at(2, 1))
    for line, left in (((OLD, NEW), at(3, 2)), ((early, NEW), at(2, 1))):
        assert left_at(smallest(channels={"blue": channel(*line, RIGHT)})) == {"old": left}


def test_watts_are_those_of_one_tube_in_each_place() -> None:
    weak = replace(OLD, watts=39)
    assert channel(weak, NEW, RIGHT).tube_watts == 108  # 54 + 54


def test_a_tube_without_a_fitting_was_there_from_the_beginning() -> None:
    first = Tube(id="first", watts=54, place="left")
    assert stood_on((first, NEW), dt.date(1990, 1, 1)) == (first,)


def test_worn_out_is_the_declared_loss_when_it_is_replaced() -> None:
    def worn(**values: object) -> float | None:
        return worn_light((Tube(id="a", watts=54, **values),))  # type: ignore[arg-type]

    # 6,100 h are 6,000 h after 100 h: 6 × 5 % = 30 % lost
    assert worn(depreciation=LOSS, replace_after_hours=6100.0) == pytest.approx(0.7)
    assert worn(depreciation=LOSS) is None
    assert worn(replace_after_hours=6100.0) is None


SILENT = Tube(id="new", watts=54, place="left", fitted=at(3, 2))
WORN = Tube(
    id="new", watts=54, place="left", fitted=at(3, 2), depreciation=LOSS, replace_after_hours=6100.0
)


@pytest.mark.parametrize(
    ("line", "date", "what"),
    [
        ((OLD, NEW), on(2, 20), Measured.TOLD),
        ((OLD, SILENT), on(2, 20), Measured.TOLD),
        ((NEW,), on(3, 2), Measured.TOLD),
        ((NEW,), on(3, 1), Measured.UNKNOWN),
        ((SILENT,), on(3, 1), Measured.UNKNOWN),
        ((WORN,), on(3, 1), Measured.ASSUMED),
        ((Tube(id="old", watts=54, place="left"), NEW), on(2, 20), Measured.UNKNOWN),
        ((Tube(id="old", watts=54, place="left"), NEW), on(3, 20), Measured.TOLD),
        ((RIGHT,), on(2, 20), Measured.TOLD),
        ((SILENT,), None, Measured.TOLD),
        ((NEW,), None, Measured.UNKNOWN),
        ((WORN,), None, Measured.ASSUMED),
    ],
)
def test_what_is_known_of_the_measurement(
    line: tuple[Tube, ...], date: dt.date | None, what: Measured
) -> None:
    assert measured(channel(*line, measured_on=date), line) is what


@pytest.mark.parametrize(
    ("tubes", "found"),
    [
        ((OLD, NEW, RIGHT), []),
        ((Tube(id="old", watts=54, place="left"), NEW), []),
        ((Tube(id="a", watts=54, place="left"), Tube(id="b", watts=54, place="left")),
         [("PHO337", ("tubes", "b"))]),
        ((NEW, Tube(id="b", watts=54, place="left", fitted=at(3, 2))), [("PHO337", ("tubes", "b"))]),
        ((Tube(id="a", watts=54, place="left", fitted=at(1, 1), removed=at(3, 2)), NEW), []),
        ((Tube(id="a", watts=54, place="left", fitted=at(1, 1), removed=at(3, 2, 11)), NEW),
         [("PHO337", ("tubes", "a", "removed"))]),
        ((Tube(id="a", watts=54, place="left", fitted=at(2, 1), removed=at(2, 1)), NEW),
         [("PHO337", ("tubes", "a", "removed"))]),
        ((RIGHT, Tube(id="a", watts=54, fitted=at(1, 1), removed=at(2, 1))),
         [("PHO338", ("tubes", "a", "removed"))]),
    ],
)  # fmt: skip
def test_a_place_holds_one_tube_at_a_time(
    tubes: tuple[Tube, ...], found: list[tuple[str, tuple[str, ...]]]
) -> None:
    findings = Findings()
    check_places(channel(*tubes), findings)
    assert [(each.code, each.path) for each in findings] == found
