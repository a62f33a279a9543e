from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_types import ChannelSeason, SeasonError
from photoperiod.program.season_days import Error
from photoperiod.schedule.model import DatedTables
from tests.checks.bench import Day, assert_found, bench, findings, handmade, marked, on
from tests.conftest import ROOT, compiled

CODE = "PHO426"
PLACE = "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\n"


def strays(
    *tables: dict[str, tuple[float, float, int]],
    number: int | None = None,
    light: float = 0.05,
    dose: float = 0.05,
) -> list[Diagnostic]:
    """Return the findings on tables with these errors of light and dose, for so many days."""
    program = handmade(bench(), *(Day(first=on(n + 1)) for n in range(len(tables))))
    seasons = [
        SeasonError(
            {id: ChannelSeason(Error(off_l, off_d), on(n + 1), days)
             for id, (off_l, off_d, days) in table.items()}
        )
        for n, table in enumerate(tables)
    ]  # fmt: skip
    wanted = replace(
        program.schedule.dated_tables, tables=number, light_error=light, dose_error=dose
    )
    program = replace(
        program,
        schedule=replace(program.schedule, dated_tables=wanted),
        tables=tuple(replace(t, season=s) for t, s in zip(program.tables, seasons, strict=True)),
    )
    return findings(CODE, program)


def test_one_table_for_five_nights_of_the_moon() -> None:
    assert_found(
        CODE,
        [("controller:\n", PLACE + "dated_tables: {tables: 1}\ncontroller:\n"),
         ("channels:\n", "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
          "    moonlight: {kind: phase-and-rise, full_light_percent: 90, start: 21:00, end: 09:00}\n")],
        (28, 3, "moon"),
        "the table of 'moon' from 2027-03-01 stands for 5 dates, on some of which its light is off by",
    )  # fmt: skip


# The schedule allows 4 % of light and 6 % of dose; beside a number of tables a quarter is allowed.
@pytest.mark.parametrize(
    ("off_light", "off_dose", "number", "is_found"),
    [
        (0.039, 0.0, None, False), (0.04, 0.0, None, False), (0.041, 0.0, None, True),
        (0.0, 0.059, None, False), (0.0, 0.06, None, False), (0.0, 0.061, None, True),
        (0.25, 0.25, 3, False), (0.251, 0.0, 3, True), (0.0, 0.251, 3, True),
        (0.249, 0.249, 3, False),
    ],
)  # fmt: skip
def test_the_errors_that_are_allowed(
    off_light: float, off_dose: float, number: int | None, is_found: bool
) -> None:
    found = strays({"weak": (off_light, off_dose, 5)}, number=number, light=0.04, dose=0.06)
    assert len(found) == is_found


@pytest.mark.parametrize(("light", "dose", "is_found"), [(0.4, 0.3, False), (0.3, 0.3, True)])
def test_errors_that_the_schedule_allows_beside_a_number(
    light: float, dose: float, is_found: bool
) -> None:
    assert len(strays({"weak": (0.35, 0.3, 5)}, number=3, light=light, dose=dose)) == is_found


@pytest.mark.parametrize(("days", "is_found"), [(1, False), (2, True)])
def test_a_table_of_one_date_can_not_stray_from_others(days: int, is_found: bool) -> None:
    assert len(strays({"weak": (0.5, 0.5, days)})) == is_found


def test_the_message_tells_both_errors_and_the_dates() -> None:
    (found,) = strays({}, {"strong": (0.1, 0.3, 12)})
    assert marked(found) == (33, 3, "strong")
    assert found.message == (
        "the table of 'strong' from 2027-03-02 stands for 12 dates, on some of which its light is off"
        " by 10 % of the channel's brightest, or its dose by 30 %; not kept: 5 % of light and 5 % of dose,"
        " as asked"
    )


# Of light 10 %, of dose 30 %: what is beyond its bound is named, and no other.
@pytest.mark.parametrize(
    ("number", "light", "dose", "told"),
    [
        (None, 0.1, 0.07, "not kept: 7 % of dose, as asked"),
        (None, 0.02, 0.3, "not kept: 2 % of light, as asked"),
        (3, 0.05, 0.05, "not kept: 25 % of dose, the bound beside a number of tables"),
    ],
)
def test_the_bound_that_is_not_kept_is_named(
    number: int | None, light: float, dose: float, told: str
) -> None:
    (found,) = strays({"strong": (0.1, 0.3, 12)}, number=number, light=light, dose=dose)
    assert found.message.endswith(f"or its dose by 30 %; {told}")


@pytest.mark.parametrize(
    ("errors", "worst"),
    [
        ([(0.1, 0.2), (0.3, 0.1), (0.2, 0.2)], 2),  # the largest of all is 0.3 of light
        ([(0.1, 0.2), (0.3, 0.1), (0.2, 0.4)], 3),
        ([(0.1, 0.5), (0.3, 0.1), (0.2, 0.4)], 1),
        ([(0.3, 0.1), (0.1, 0.3), (0.2, 0.1)], 1),  # of two that are as bad the first
    ],
)
def test_the_worst_table_of_a_channel_is_told(
    errors: list[tuple[float, float]], worst: int
) -> None:
    (found,) = strays(*({"weak": (light, dose, 5)} for light, dose in errors))
    assert f"from 2027-03-0{worst} stands" in found.message
    rest = ", ".join(f"2027-03-0{n}" for n in (1, 2, 3) if n != worst)
    assert found.message.endswith(f"; and in 2 other tables, from {rest}")


def test_each_channel_is_found_once() -> None:
    found = strays(
        {"strong": (0.1, 0.1, 5), "weak": (0.01, 0.01, 5)},
        {"strong": (0.2, 0.1, 5), "weak": (0.1, 0.1, 5)},
    )
    assert [(marked(each)[2], each.message.split()[5]) for each in found] == [
        ("strong", "2027-03-02"),
        ("weak", "2027-03-02"),
    ]


def test_dates_that_all_want_the_same() -> None:
    assert findings(CODE, handmade(bench(), Day(first=on(1), last=on(9)))) == []


def test_a_moon_of_which_less_is_asked() -> None:
    text = (ROOT / "examples" / "southern-summer.yaml").read_text(encoding="utf-8")
    program = compiled(text, DateSpan(on(1), on(4))).program
    assert program is not None
    far = ChannelSeason(Error(0.2, 0.2), on(1), 4)
    tables = tuple(
        replace(t, season=SeasonError({"white": far, "moon": far})) for t in program.tables
    )
    asked = replace(
        program.schedule.dated_tables, light_error=0.1, dose_error=0.1,
        moon=DatedTables(light_error=0.3, dose_error=0.3),
    )  # fmt: skip
    schedule = replace(program.schedule, dated_tables=asked)
    found = findings(CODE, replace(program, schedule=schedule, tables=tables))
    assert [each.path[-1] for each in found] == ["white"]
