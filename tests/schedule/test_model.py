"""A schedule is plain values: what it may hold, and that it can be built without a file."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping
from enum import Enum
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from photoperiod.api import compile, load_text, write
from photoperiod.curves.shapes import Shape
from photoperiod.drive.ballast import BallastCurve, BelowFloor, DarkKind, ResponseKind
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import AfterLastRow, Between, RelayKind, RelayMode, TimeGrid
from photoperiod.schedule.day_plan import ClockTime, Dawn, Dusk, Event, Peak, Ramps, SunDay
from photoperiod.schedule.model import (
    Ballast,
    Channel,
    Controller,
    DatedTables,
    Schedule,
    Tube,
    Zone,
)
from photoperiod.schedule.site import Place
from photoperiod.sky.clock import ClockKind
from photoperiod.sky.kinds import SunEvent
from tests.conftest import EXAMPLES, ROOT, SCHEDULE
from tests.days.bench import EVENTS, LISBON, MOON, RAMPS, SUN, TEXT

#: Each kind of day: ramps by clock and by sky, points, sun, moonlight; and the ordinary test schedule.
TEXTS = {
    "bench": SCHEDULE,
    **{
        name: TEXT.format(day=day, plan="standard", controller="standard", top="", **LISBON)
        for name, day in {
            "ramps": RAMPS,
            "sun": SUN % ", peak_of: day, model: clear-sky",
            "events": EVENTS
            % ('{at: sunrise, not_before: "06:00"}', '{at: sunset, if_none: "15:00"}'),
            "moon": MOON % "phase-and-rise",
            "points": '    day: {kind: points, points: [{time: "08:00", light_percent: 5}, '
            "{time: sunset, light_percent: 5}]}\n",
        }.items()
    },
    **{path.stem: path.read_text(encoding="utf-8") for path in EXAMPLES},
}

#: What has no parts. Kinds are text too, but members of an enumeration.
SIMPLE = (str, int, float, bool, Fraction, dt.date, type(None))


def foreign(value: object, at: str = "schedule") -> Iterator[str]:
    """Yield the place and the type of whatever is no plain, read-only value."""
    if isinstance(value, Enum) or type(value) in (*SIMPLE, dt.datetime):
        return
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        module = type(value).__module__
        if not module.startswith("photoperiod.") or module.startswith("photoperiod.diagnostics"):
            yield f"{at}: {type(value).__name__} is none of our values"
        if not value.__dataclass_params__.frozen:  # type: ignore[attr-defined]
            yield f"{at}: {type(value).__name__} can be changed"
        if hasattr(value, "__dict__"):
            yield f"{at}: {type(value).__name__} has no slots"
        for field in dataclasses.fields(value):
            yield from foreign(getattr(value, field.name), f"{at}.{field.name}")
    elif type(value) is MappingProxyType:
        for key, inner in value.items():
            yield from foreign(key, f"{at} key")
            yield from foreign(inner, f"{at}[{key}]")
    elif type(value) in (tuple, frozenset):
        for index, inner in enumerate(value):  # type: ignore[arg-type]
            yield from foreign(inner, f"{at}[{index}]")
    else:
        yield f"{at}: {type(value).__name__}"


def schedule_of(text: str) -> Schedule:
    return load_text("test.yaml", text.encode(), ROOT / "examples").schedule


@pytest.mark.parametrize("name", TEXTS)
def test_a_loaded_schedule_holds_plain_values_only(name: str) -> None:
    assert list(foreign(schedule_of(TEXTS[name]))) == []


def with_channel(**fields: Any) -> Schedule:
    schedule = schedule_of(SCHEDULE)
    blue = dataclasses.replace(schedule.channels["blue"], **fields)
    return dataclasses.replace(schedule, channels={"blue": blue})


@pytest.mark.parametrize(
    ("planted", "type_name"),
    [
        (lambda date: (), "function"),
        ({"kind": "sun"}, "dict"),
        ([1.0], "list"),
        (object(), "object"),
        (print, "builtin_function_or_method"),
    ],
)
def test_the_walk_finds_what_is_planted(planted: object, type_name: str) -> None:
    assert list(foreign(with_channel(day=planted))) == [f"schedule.channels[blue].day: {type_name}"]


def test_the_walk_finds_a_callback_deep_inside() -> None:
    day = SunDay(peak_light=0.8, model=len)  # type: ignore[arg-type]
    (found,) = foreign(with_channel(day=day))
    assert found == "schedule.channels[blue].day.model: builtin_function_or_method"


@pytest.mark.parametrize("name", ["ballasts", "tubes", "zones", "channels"])
def test_mappings_can_not_be_changed(name: str) -> None:
    given = dict(getattr(schedule_of(SCHEDULE), name))
    schedule = dataclasses.replace(schedule_of(SCHEDULE), **{name: given})
    held: Mapping[str, object] = getattr(schedule, name)
    with pytest.raises(TypeError):
        held["x"] = None  # type: ignore[index]
    given.clear()
    assert held, "a mapping that was handed over is copied"


# Built in Python ------------------------------------------------------------------------------------

PAIR = Ballast(
    id="pair",
    curve=BallastCurve(
        kind=ResponseKind.SQUARE_LAW,
        floor_volts=1.0,
        floor_light=0.01,
        full_volts=10.0,
        dark=DarkKind.RELAY,
        below_floor=BelowFloor.NEAREST,
    ),
)
CONTROLLER = Controller(
    clock=ClockKind.STANDARD,
    setpoints_per_channel=16,
    times=TimeGrid(step_s=60, between=Between.LINE, after_last_row=AfterLastRow.WRAP),
    relay=RelayMode(kind=RelayKind.COLUMN),
    converter=Converter.nominal(12, 10.0, 10.0),
)
DAY = Ramps(
    dawn=Dawn(start=ClockTime.of("09:00"), length_s=3600),
    peaks=(Peak(light=0.8),),
    dusk=Dusk(end=ClockTime.of("21:00"), length_s=3600),
)

#: The smallest schedule there is: a controller, a ballast, a channel, everything else by default.
SMALLEST = """\
schedule: 1
tank: bench
controller:
  clock: standard
  setpoints_per_channel: 16
  between: line
  after_last_row: wrap
  relay: {kind: column}
  converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
channels:
  blue:
    ballast: pair
    day:
      kind: ramps
      dawn: {start: "09:00", minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: "21:00", minutes: 60}
"""


def smallest(**fields: Any) -> Schedule:
    blue = Channel(id="blue", ballast=PAIR, day=DAY)
    given = {
        "tank": "bench",
        "controller": CONTROLLER,
        "ballasts": {"pair": PAIR},
        "channels": {"blue": blue},
    }
    return Schedule(**(given | fields))


def test_the_smallest_schedule_in_python_gives_the_tables_of_the_same_file(tmp_path: Path) -> None:
    loaded = schedule_of(SMALLEST)
    assert smallest() == loaded
    program = compile(smallest()).program
    rows = program.tables[0].channels["blue"].fit.rows
    # by hand: dark until 09:00, and from 21:00 on; the square law's level of 80 % light is 89.44 %
    # A row is left over: level 0 until 09:00, in case that the relay is welded.
    assert (rows[0].second, rows[0].count, rows[0].relay) == (9 * 3600 - 60, 0, False)
    assert rows[1].second == 9 * 3600 and rows[-1].second == 21 * 3600
    assert max(row.count for row in rows) in (89, 90)
    # the digest of the text is the only thing that only a file has
    same = dataclasses.replace(loaded, file_digest="")
    for name, each in (("python", smallest()), ("file", same)):
        write(compile(each), tmp_path / name)
    names = sorted(path.name for path in (tmp_path / "python").iterdir())
    assert "table.json" in names
    for name in names:
        texts = {(tmp_path / each / name).read_bytes() for each in ("python", "file")}
        assert len(texts) == 1, name


def test_a_larger_schedule_in_python_is_the_same_in_a_file() -> None:
    text = TEXT.format(
        day='    day:\n      kind: ramps\n      dawn: {start: {at: sunrise - 30 min, not_before: "07:00",'
        ' if_none: "09:00"}, minutes: 45, shape: sine}\n      peaks: [{light_percent: 50},'
        " {light_percent: 70, from: noon, minutes: 5}]\n      dusk: {end: sunset, minutes: 45}\n"
        "    tubes: [a]\n",
        plan="standard", controller="standard", top="tubes: {a: {watts: 54}}\n", **LISBON,
    )  # fmt: skip
    at_seven, at_nine = ClockTime.of("07:00"), ClockTime(9 * 3600)
    sunrise = Event(name=SunEvent.SUNRISE, offset_s=-1800, not_before=at_seven, if_none=at_nine)
    day = Ramps(
        dawn=Dawn(start=sunrise, length_s=2700, shape=Shape.SINE),
        peaks=(
            Peak(light=0.5),
            Peak(light=0.7, ramp_start=Event(name=SunEvent.NOON), ramp_s=300),
        ),
        dusk=Dusk(end=Event(name=SunEvent.SUNSET), length_s=2700),
    )
    tube = Tube(id="a", watts=54.0)
    blue = Channel(id="blue", ballast=PAIR, day=day, tubes=(tube,), full_ppfd={"crest": 100.0})
    made = Schedule(
        tank="bench",
        title="Two clocks",
        place=Place(latitude_deg=38.7, longitude_deg=-9.1, time_zone="Europe/Lisbon"),
        controller=dataclasses.replace(CONTROLLER, tables=366, rounding_is_stated=True),
        ballasts={"pair": PAIR},
        tubes={"a": tube},
        zones={"crest": Zone(id="crest", dli_band=(0.0, 60.0), dark_hours_min=0.0)},
        channels={"blue": blue},
    )
    assert made == schedule_of(text)


def test_what_is_left_out_follows_from_what_is_there() -> None:
    assert Channel(id="blue", ballast=PAIR).label == "blue"
    assert Channel(id="blue", ballast=PAIR, label="Actinic").label == "Actinic"
    assert Tube(id="a", watts=54.0).light_share == 54.0
    assert Tube(id="a", watts=54.0, light_share=2.0).light_share == 2.0


def test_a_place_in_the_file_follows_from_the_id() -> None:
    assert Channel(id="blue", ballast=PAIR).path == ("channels", "blue")
    assert PAIR.path == ("ballasts", "pair")
    assert Tube(id="a", watts=54.0).path == ("tubes", "a")
    assert Zone(id="crest").path == ("zones", "crest")
    assert CONTROLLER.path == ("controller",)


def test_dates_are_needed_where_the_sky_is_followed_or_clocks_differ() -> None:
    assert not smallest().needs_dates
    assert smallest(plan_clock=ClockKind.UTC).needs_dates
    assert smallest(plan_clock=ClockKind.CIVIL, spread_minutes=10.0).needs_dates
    sun = Channel(id="blue", ballast=PAIR, day=SunDay(peak_light=0.8))
    assert smallest(channels={"blue": sun}).needs_dates


def test_tables_of_channels_that_follow_the_moon_may_be_asked_apart() -> None:
    def moon(kind: str) -> Channel:
        text = f"    moonlight: {{kind: {kind}, light_percent: 2, start: 21:00, end: 06:00}}\n"
        if kind != "steady":
            text = text.replace("light_percent", "full_light_percent")
        begin = SCHEDULE.index("    day:")
        place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"
        text = place + SCHEDULE[:begin] + text + SCHEDULE[SCHEDULE.index("tank: bench") :]
        return schedule_of(text).channels["blue"]

    alike, few = DatedTables(tables=12), DatedTables(tables=8)
    apart = DatedTables(tables=12, moon=few)
    assert apart.of(moon("phase")) is apart.of(moon("phase-and-rise")) is few
    assert apart.of(moon("steady")) is apart
    assert apart.of(Channel(id="sun", ballast=PAIR, day=SunDay(peak_light=0.8))) is apart
    assert alike.of(moon("phase")) is alike


def test_the_digest_is_that_of_the_file_or_of_the_values() -> None:
    import hashlib

    loaded = schedule_of(SMALLEST)
    assert loaded.digest == hashlib.sha256(SMALLEST.encode()).hexdigest()
    made = smallest()
    assert len(bytes.fromhex(made.digest)) == 32 and made.digest != loaded.digest
    assert made.digest == smallest().digest
    assert made.digest != smallest(title="another").digest
    assert made.digest == dataclasses.replace(loaded, file_digest="").digest
