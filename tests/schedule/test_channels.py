from __future__ import annotations

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.build import build_schedule
from photoperiod.schedule.channels import check_uses
from photoperiod.source.document import read_text
from tests.conftest import SCHEDULE, changed
from tests.schedule.bench import findings_of, told, top_of

BLUE = ("channels", "blue")
PLACE = "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\n"
DAWN = "dawn: {start: 09:00, minutes: 60}"


def found(text: str) -> list[tuple[str, Path]]:
    document = read_text("test.yaml", text.encode())
    return [(each.code, each.path) for each in build_schedule(document, set())[1]]


@pytest.mark.parametrize(
    ("change", "finding"),
    [
        (("ballast: pair", "ballast: pear"), ("PHO301", (*BLUE, "ballast"))),
        (("tubes: [blue-a]", "tubes: [x]"), ("PHO301", (*BLUE, "tubes", 0))),
        (("{crest: 130}", "{chest: 130}"), ("PHO301", (*BLUE, "full_ppfd", "zones", "chest"))),
        (("{crest: 130}", "{crest: 0}"), ("PHO317", ("zones", "crest"))),
        (("    full_ppfd: {zones: {crest: 130}}\n", ""), ("PHO325", BLUE)),
        (("start: 09:00", "start: 09:00:30"), ("PHO323", BLUE)),
        (("start: 09:00", "start: sunrise"), ("PHO329", BLUE)),
        (
            ("full_ppfd: {zones", "full_ppfd: {measured_on: 2027-02-30, zones"),
            ("PHO306", (*BLUE, "full_ppfd", "measured_on")),
        ),
        (
            ("{watts: 54}", "{watts: 54, depreciation: {kind: exponential,"
             " loss_percent_per_1000_h: 2}}"),
            ("PHO324", (*BLUE, "full_ppfd")),
        ),
        (("{watts: 54}", "{watts: 54, fitted: 2027-03-02}"), ("PHO324", (*BLUE, "full_ppfd"))),
    ],
)  # fmt: skip
def test_what_is_told_of_a_channel(change: tuple[str, str], finding: tuple[str, Path]) -> None:
    assert finding in found(changed(change))
    assert finding not in found(SCHEDULE)


def test_a_date_of_measurement_needs_no_note_on_the_tubes_of_today() -> None:
    new = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02}")
    note = ("PHO324", (*BLUE, "full_ppfd"))
    assert note in found(changed(new))
    assert note not in found(
        changed(new, ("full_ppfd: {zones", "full_ppfd: {measured_on: 2027-03-05, zones"))
    )


def test_a_channel_that_does_nothing() -> None:
    text = SCHEDULE[: SCHEDULE.index("    day:")]
    assert found(text) == [("PHO316", BLUE)]


def test_burn_in_on_a_ballast_that_is_never_dark() -> None:
    text = changed(
        ("{watts: 54}", "{watts: 54, burn_in_full_hours: 12}"),
        ("dark: {kind: relay}", "dark: {kind: never}"),
    )
    assert ("PHO320", ("tubes", "blue-a", "burn_in_full_hours")) in found(text)


def test_bounds_of_events_are_checked_without_a_date() -> None:
    event = '{at: sunrise, not_before: "08:00", not_after: "07:00"}'
    text = changed((DAWN, f"dawn: {{start: {event}, minutes: 60}}"))
    assert found(PLACE + text) == [("PHO319", (*BLUE, "day", "dawn", "start", "not_before"))]


def test_times_by_the_sky_are_on_no_grid() -> None:
    text = changed((DAWN, "dawn: {start: sunrise, minutes: 60}"), ("end: 21:00", "end: 21:00:30"))
    assert found(PLACE + text) == []


@pytest.mark.parametrize("key", ["sky", "dated_tables"])
def test_a_sky_that_no_channel_follows(key: str) -> None:
    line = {"sky": "sky: {latitude: 5}\n", "dated_tables": "dated_tables: {tables: 3}\n"}[key]
    assert found(PLACE + line + SCHEDULE) == [("PHO318", (key,))]


@pytest.mark.parametrize(
    ("day", "key"),
    [
        ("    day: {kind: sun, peak_light_percent: 80}\n", "moon"),
        ("    moonlight: {kind: phase, full_light_percent: 9, start: 21:00, end: 06:00}\n", "sun"),
    ],
)
def test_a_sun_or_a_moon_that_no_channel_follows(day: str, key: str) -> None:
    begin = SCHEDULE.index("    day:")
    text = SCHEDULE[:begin] + day + SCHEDULE[SCHEDULE.index("tank: bench") :]
    both = "dated_tables: {sun: {tables: 3}, moon: {tables: 3}}\n"
    assert found(PLACE + both + text) == [("PHO318", ("dated_tables", key))]


def test_a_tube_stands_on_one_channel() -> None:
    top = top_of("channels: {a: {tubes: [x, y]}, b: {tubes: [y]}, c: {tubes: [y]}}\n")
    findings = findings_of(top)
    check_uses(findings)
    assert told(findings) == [
        ("PHO302", ("channels", "b", "tubes", 0)),
        ("PHO302", ("channels", "c", "tubes", 0)),
    ]
    assert findings[1].related[0].path == ("channels", "a", "tubes", 1)


def test_what_nothing_uses() -> None:
    top = top_of("ballasts: {p: {}, q: {}}\ntubes: {x: {}}\nchannels: {a: {ballast: q}}\n")
    findings = findings_of(top)
    check_uses(findings)
    assert told(findings) == [("PHO318", ("tubes", "x")), ("PHO318", ("ballasts", "p"))]
    faulty = findings_of(top)
    faulty.add("PHO301", (), "a fault")
    check_uses(faulty)
    assert told(faulty) == [("PHO301", ())], "what seems unused may be misspelt"


def ballasts_of(tubes: int, full_watts: float | None, count: int | None) -> list[tuple[str, Path]]:
    """Return what is told of a channel with some tubes of 54 W."""
    names = [f"tube-{n}" for n in range(tubes)]
    watts = "" if full_watts is None else f"    watts: {{full: {full_watts}, floor: 25}}\n"
    written = "" if count is None else f"    ballast_count: {count}\n"
    return found(
        changed(
            ("  blue-a: {watts: 54}\n", "".join(f"  {name}: {{watts: 54}}\n" for name in names)),
            ("    below_floor: nearest\n", "    below_floor: nearest\n" + watts),
            ("    tubes: [blue-a]\n", f"    tubes: [{', '.join(names)}]\n{written}"),
        ).replace("tubes:\nzones", "zones")
    )


NOTED, WARNED = [("PHO324", BLUE)], [("PHO336", BLUE)]


@pytest.mark.parametrize(
    ("tubes", "full_watts", "count", "expected"),
    [
        (2, None, None, NOTED),
        (0, None, None, NOTED),
        (0, 118, None, NOTED),
        (2, None, 1, []),
        (1, None, None, []),  # one tube does not burn on two ballasts
        (2, 118, None, []),  # 108 / 118 = 0.92
        (6, 118, None, [*WARNED, *NOTED]),  # 324 / 118 = 2.75
        (6, 118, 1, WARNED),
        (6, 118, 3, []),  # 324 / 354 = 0.92
        (6, 118, 2, WARNED),  # 324 / 236 = 1.37
        (1, 118, None, WARNED),  # 54 / 118 = 0.46
        (2, 81, None, []),  # 108 / 81 = 4 / 3
        (2, 80.9, 1, WARNED),
        (2, 162, 1, []),  # 108 / 162 = 2 / 3
        (2, 162.1, 1, WARNED),
    ],
)
def test_the_number_of_ballasts_is_noted_unless_something_confirms_it(
    tubes: int, full_watts: float | None, count: int | None, expected: list[tuple[str, Path]]
) -> None:
    assert sorted(ballasts_of(tubes, full_watts, count)) == sorted(expected)
