"""Strategies for what table files hold. Numbers are those that a file holds without rounding."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import strategies as st

from photoperiod.drive.ballast import BallastCurve, DarkKind, ResponseKind
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import (
    AfterLastRow,
    Between,
    LevelGrid,
    LevelUnit,
    RelayKind,
    RelayMode,
    Rounding,
    Row,
    TimeGrid,
)
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.about import (
    About,
    AboutChannel,
    AboutController,
    AcceptedFinding,
    SafeState,
)
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows
from photoperiod.formats.table import read_table
from photoperiod.program.channel_day import Role
from photoperiod.sky.clock import ClockKind

#: An image counts days from 2000 to 2179.
DATES = st.dates(dt.date(2000, 1, 1), dt.date(2170, 12, 31))

TEXTS = st.text(max_size=12)

IDS = st.from_regex(r"[a-z][a-z0-9-]{0,8}", fullmatch=True)

NUMBERS = st.floats(0, 1e6)


@st.composite
def ballasts(draw: st.DrawFn) -> BallastCurve:
    kind = draw(st.sampled_from(ResponseKind))
    dark = draw(st.sampled_from(DarkKind))
    floor_percent = draw(st.integers(1, 500_000)) / 10_000
    floor, full = 1.0, 10.0
    volts: tuple[float, ...] = ()
    light: tuple[float, ...] = ()
    if kind == ResponseKind.MEASURED:
        middle = draw(st.integers(500_000, 1_000_000)) / 10_000
        volts, light = (floor, 5.5, full), (floor_percent / 100, middle / 100, 1.0)
    return BallastCurve(
        kind=kind,
        floor_volts=floor,
        full_volts=full,
        floor_light=floor_percent / 100,
        dark=dark,
        standby_volts=draw(st.floats(0.1, 0.9)) if dark == DarkKind.STANDBY else 0.0,
        keeps_mains=dark == DarkKind.STANDBY and draw(st.booleans()),
        volts=volts,
        light=light,
    )


@st.composite
def controllers(draw: st.DrawFn) -> AboutController:
    relay = draw(st.sampled_from(RelayKind))
    unit, step = draw(
        st.sampled_from(
            [
                (LevelUnit.PERCENT, Fraction(1)),
                (LevelUnit.PERCENT, Fraction(1, 2)),
                (LevelUnit.MILLIVOLTS, Fraction(100)),
                (LevelUnit.CODE, Fraction(4)),
            ]
        )
    )
    converter = draw(
        st.sampled_from(
            [
                Converter.nominal(12, 10.0, 10.0),
                Converter.two_point(10, (102, 1.062), (921, 9.486), 10.0),
                Converter.nominal(8, 10.24, 9.9),
                Converter.measured(12, ((300, 1.0), (2000, 5.5), (3700, 9.6)), 10.0),
            ]
        )
    )
    return AboutController(
        times=TimeGrid(
            step_s=draw(st.sampled_from([1, 60, 900])),
            between=draw(st.sampled_from(Between)),
            after_last_row=draw(st.sampled_from(AfterLastRow)),
        ),
        soft_start_minutes=draw(st.integers(0, 60)),
        relay=RelayMode(
            kind=relay,
            on_level_percent=draw(st.floats(0, 100)) if relay == RelayKind.FOLLOWS_LEVEL else 0.0,
        ),
        levels=LevelGrid(
            unit=unit,
            step=step,
            every_seconds=draw(st.sampled_from([1, 60])),
            rounding=draw(st.sampled_from(Rounding)),
        ),
        converter=converter,
        full_code=converter.full_code,
    )


#: What codes give on an output of its own: no more volts than the controller means.
OUTPUTS = (
    None,
    Converter.nominal(16, 10.0, 10.0),
    Converter.measured(12, ((0, 0.0), (2000, 4.0), (4095, 9.0)), 10.0),
)


def channels(top_count: int) -> st.SearchStrategy[AboutChannel]:
    return st.builds(
        AboutChannel,
        label=TEXTS,
        ballast=ballasts(),
        ballast_count=st.integers(1, 20),
        tubes=st.lists(IDS, max_size=2).map(tuple),
        full_ppfd=st.dictionaries(IDS, NUMBERS, max_size=2),
        converter=st.sampled_from(OUTPUTS),
        safe_state=st.builds(
            SafeState,
            light_percent=st.floats(0, 100),
            count=st.integers(0, top_count),
            converter_code=st.integers(0, 255),
            relay=st.booleans(),
        ),
    )


def top_count_of(controller: AboutController) -> int:
    return controller.levels.top_count(controller.converter)


@st.composite
def abouts(draw: st.DrawFn) -> About:
    controller = draw(controllers())
    dates = draw(st.none() | st.tuples(DATES, DATES).map(lambda pair: tuple(sorted(pair))))
    return About(
        made_with=draw(TEXTS),
        zone_data=draw(TEXTS),
        title=draw(TEXTS),
        sha256=draw(st.binary(min_size=32, max_size=32)).hex(),
        clock=draw(st.sampled_from([ClockKind.STANDARD, ClockKind.CIVIL, ClockKind.UTC])),
        dates=dates,  # type: ignore[arg-type]
        time_zone=draw(st.none() | TEXTS),
        cautions=draw(st.lists(TEXTS, max_size=2).map(tuple)),
        accepted=draw(
            st.lists(st.builds(AcceptedFinding, TEXTS, TEXTS, TEXTS, TEXTS, TEXTS), max_size=1).map(
                tuple
            )
        ),
        controller=controller,
        channels=draw(
            st.dictionaries(IDS, channels(top_count_of(controller)), min_size=1, max_size=2)
        ),
    )


CERTIFICATE = {
    "sample_seconds": 60,
    "time_tolerance_seconds": 300,
    "error_percent": 0.5,
    "bound_percent": 0.25,
    "is_best": False,
    "is_closest": True,
    "floor_percent": 0.0,
    "floor_rows": None,
    "half_rows": 7,
    "joint_error_percent": None,
    "joint_bound_percent": 1.5,
}


@st.composite
def channel_rows(draw: st.DrawFn, about: About) -> ChannelRows:
    has_relay = about.controller.relay.kind == RelayKind.COLUMN
    seconds = sorted(draw(st.sets(st.integers(0, 86_399), min_size=1, max_size=4)))
    counts = st.integers(0, top_count_of(about.controller))
    relays = st.booleans() if has_relay else st.none()
    return ChannelRows(
        rows=tuple(Row(second, draw(counts), draw(relays)) for second in seconds),
        role=draw(st.sampled_from(Role)),
        certificate=CERTIFICATE,
    )


@st.composite
def contents(draw: st.DrawFn) -> Contents:
    """Contents that a player can play: of one table without dates, or of one to three with them."""
    about = draw(abouts())
    firsts: Sequence[dt.date | None] = [None]
    if about.dates is not None:
        first, last = about.dates
        more = draw(st.sets(st.dates(first, last), max_size=2)) - {first}
        firsts = [first, *sorted(more)]
    return Contents(
        about,
        tuple(
            DatedRows(
                from_date=date,
                to_date=None if about.dates is None else about.dates[1],
                channels={id: draw(channel_rows(about)) for id in about.channels},
            )
            for date in firsts
        ),
    )


def without_proofs(value: Contents) -> Contents:
    """Return contents without what only JSON holds: last dates, roles and certificates."""
    return Contents(
        value.about,
        tuple(
            replace(
                table,
                to_date=None,
                channels={id: ChannelRows(rows=c.rows) for id, c in table.channels.items()},
            )
            for table in value.tables
        ),
    )


#: How a byte is changed, and where in a file: the place is a share of its length.
DAMAGES = st.tuples(st.floats(0, 1, exclude_max=True), st.integers(1, 255))


def assert_refused(raw: bytes, damage: tuple[float, int]) -> None:
    """Assert that a file with one changed byte, and one that is cut there, are refused in words."""
    share, change = damage
    at = int(share * len(raw))
    changed = raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :]
    for damaged in (changed, raw[:at]):
        with pytest.raises(OutsideWorldError, match=r"^can't use 'x' as a table: it") as refused:
            read_table("x", damaged)
        assert refused.value.code == "PHO505"
