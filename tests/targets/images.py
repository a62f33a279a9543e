"""Images that are hard to play, strategies for more of them, and what must come of each."""

from __future__ import annotations

import datetime as dt
import struct
import zlib
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.formats.about import About, AboutChannel, AboutController, SafeState
from photoperiod.formats.code_line import MOST_INT32, CodeLine
from photoperiod.formats.image import (
    ChannelImage,
    DatedTable,
    Image,
    day_number,
    decode,
    encode,
)
from photoperiod.player.reference import play
from tests.player.tables import play_day
from tests.targets.players import Moment, output_dtype

DIGEST = bytes(range(32))

ROUNDINGS = ("half-up", "down", "toward-last-row")


def image(*sets: Sequence[tuple[int, ...]], **changes: Any) -> Image:
    """Return an image of one channel for each set of (second, count[, relay])."""
    rows = tuple(tuple(Row(s, c, bool(r[0]) if r else True) for s, c, *r in rows) for rows in sets)
    values: dict[str, Any] = {
        "holds": False,
        "stays": False,
        "relay": "column",
        "rounding": "half-up",
        "clock": "standard",
        "every_seconds": 1,
        "top_count": 1000,
        "full_code": 4095,
        "codes": CodeLine(4193, 512, 10),
        "soft_start_minutes": 0,
        "digest": DIGEST,
        "channels": tuple(ChannelImage() for _ in rows),
        "sets": rows,
        "tables": (DatedTable(0, tuple(range(len(rows)))),),
    }
    made = Image(**values | changes)
    assert decode(encode(made)) == made
    return made


def channel(label: str) -> AboutChannel:
    """Return a channel of which only its label matters."""
    return AboutChannel(
        label=label,
        ballast=BallastCurve(
            kind="square-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
        ),
        ballast_count=1,
        tubes=(),
        full_ppfd={},
        safe_state=SafeState(light_percent=0.0, count=0, converter_code=0, relay=False),
    )


def about(made: Image, **changes: Any) -> About:
    """Return what an export tells of an image beside its rows."""
    dates = None
    if made.span is not None:
        first, last = (dt.date(2000, 1, 1) + dt.timedelta(days=day) for day in made.span)
        dates = first, last
    plain = About(
        made_with="photoperiod 0.1.0",
        zone_data="tzdata 2026a",
        title="Test bench",
        sha256=made.digest.hex(),
        clock=made.clock,
        dates=dates,
        time_zone="Europe/Lisbon",
        cautions=("Mains voltage beside salt water can kill.",),
        accepted=(),
        controller=AboutController(
            times=TimeGrid(step_s=60, between="line", after_last_row="wrap"),
            soft_start_minutes=made.soft_start_minutes,
            relay=RelayMode(kind=made.relay),
            levels=LevelGrid(
                unit="percent",
                step=Fraction(1, 10),
                every_seconds=made.every_seconds,
                rounding=made.rounding,
            ),
            converter=Converter.nominal(12, 10.0, 10.0),
            full_code=made.full_code,
        ),
        channels={f"lamp-{at}": channel(f"Lamp {at}") for at in range(len(made.channels))},
    )
    return replace(plain, **changes)


def hour(hours: float) -> int:
    return round(hours * 3600)


_DAY = day_number(dt.date(2027, 3, 27))

#: A ramp of four hours in levels of 0.1 %: 16-bit integers overflow, on rising and falling ramps,
#: and the night is one across midnight.
OVERFLOWS = [(hour(6), 0), (hour(10), 850), (hour(19.5), 850), (hour(23.5), 7)]

HARD: dict[str, Image] = {
    "sixteen-bits-overflow": image(OVERFLOWS, [(hour(8), 1000), (hour(20), 1)]),
    "falls": image([(0, 1000), (86_399, 0)], [(1, 999), (2, 0), (86_398, 1)], rounding="down"),
    "toward-last-row": image(
        [(hour(1), 37), (hour(2), 12), (hour(22), 990)],
        [(5, 0), (12, 3), (19, 0), (33, 7)],
        rounding="toward-last-row",
    ),
    "ties": image([(0, 0), (4, 2), (8, 0), (12, 1), (14, 0), (20, 3)], [(7, 5), (9, 4), (11, 5)]),
    "one-row": image([(43_200, 500)], [(0, 1)], relay="follows-level"),
    "holds": image(
        [(hour(7), 600), (hour(9), 0, 0), (hour(9.5), 1000)], [(60, 3)], holds=True, stays=False
    ),
    "holds-and-stays": image(
        [(hour(0), 0, 0), (hour(9), 1000), (hour(21), 9)],
        [(61, 3), (62, 4)],
        holds=True,
        stays=True,
    ),
    "stays": image(
        [(hour(3), 100), (hour(9), 1000), (hour(21), 9, 0)],
        [(hour(5), 70), (hour(6), 7)],
        stays=True,
    ),
    "moves-every-900-s": image(OVERFLOWS, OVERFLOWS[:2], every_seconds=900),
    "follows-level-and-snaps": image(
        [(hour(6), 0), (hour(12), 1000), (hour(20), 0)],
        [(hour(6), 90), (hour(12), 210)],
        relay="follows-level",
        channels=(
            ChannelImage(snap_from=1, snap_to=100, on_count=60, safe_count=0),
            ChannelImage(snap_from=95, snap_to=205, on_count=1001, safe_count=7, safe_relay=True),
        ),
    ),
    "soft-start": image(
        [(hour(6), 0), (hour(7), 1000), (hour(20), 100)],
        soft_start_minutes=30,
        relay="none",
        channels=(ChannelImage(soft_count=130, safe_count=1000, safe_relay=True),),
    ),
    "listed-codes": image(
        [(hour(6), 0), (hour(12), 9), (hour(20), 4)],
        [(hour(2), 9)],
        top_count=9,
        full_code=65_535,
        codes=(0, 7, 7, 9, 11, 13, 400, 4000, 40_000, 65_535),
    ),
    "codes-above-full": image(
        OVERFLOWS, codes=CodeLine(2_000_000, 147_483_647, 18), full_code=7000
    ),
    "codes-below-zero": image(OVERFLOWS, codes=CodeLine(5000, -(2**31), 8), full_code=65_535),
    "codes-of-sixteen-bits": image(OVERFLOWS, codes=CodeLine(65_536, 99, 0), full_code=65_535),
    "dated-and-shared": image(
        OVERFLOWS,
        [(hour(7), 0, 0), (hour(12), 300), (hour(18), 0)],
        tables=(
            DatedTable(_DAY, (0, 1)),
            DatedTable(_DAY + 1, (1, 0)),
            DatedTable(_DAY + 30, (1, 1)),
        ),
        span=(_DAY, _DAY + 40),
        clock="civil",
    ),
    "wide": image(
        [(0, 0), (1, 65_535), (3600, 0), (hour(20), 65_535)],
        top_count=65_535,
        full_code=65_535,
        codes=CodeLine(1, 0, 0),
    ),
    "wide-down": image(
        [(hour(4), 65_535), (hour(23), 3)],
        top_count=65_535,
        full_code=4095,
        codes=CodeLine(1, 8, 4),
        rounding="down",
        soft_start_minutes=240,
        channels=(ChannelImage(soft_count=6554),),
    ),
    "wide-codes": image(
        [(hour(6), 0), (hour(12), 1000), (hour(20), 3)],
        [(hour(6), 53), (hour(12), 54)],
        codes=CodeLine(2**31 - 1, 2**31 - 1, 24),
        full_code=65_535,
    ),
    "wide-codes-below-zero": image(
        OVERFLOWS, codes=CodeLine(70_000_123, -(2**31), 24), full_code=4000
    ),
    "nearly-wide": image(  # (2 · 12,427 + 1) · 86,399 is the most below 2^31
        [(0, 12_428), (1, 1)],
        top_count=65_534,
        full_code=65_535,
        codes=CodeLine(1, 0, 0),
        rounding="down",
    ),
}


def expected(made: Image, moments: Sequence[Moment]) -> NDArray[np.void]:
    """Return what the reference plays at moments."""
    found = np.zeros(len(moments), dtype=output_dtype(len(made.channels)))
    for at, moment in enumerate(moments):
        status, outputs = play(
            made,
            moment.day,
            moment.second,
            clock_valid=moment.clock_valid,
            stopped=moment.stopped,
            since_start_s=moment.since_start_s,
        )
        found[at] = (int(status), [(o.count, o.code, o.relay) for o in outputs])
    return found


def expected_day(made: Image, day: int) -> NDArray[np.void]:
    """Return what the reference plays in every second of a day."""
    counts, relays = play_day(made, day)
    codes = np.array([made.code_of(count) for count in range(made.top_count + 1)])
    found = np.zeros(counts.shape[1], dtype=output_dtype(len(made.channels)))
    if made.span is not None:
        found["status"] = 2 * (day < made.span[0]) + 4 * (day > made.span[1])
    outputs = found["outputs"]
    outputs["count"], outputs["code"], outputs["relay"] = counts.T, codes[counts].T, relays.T
    return found


def days(made: Image) -> list[int]:
    """Return days around those on which something changes."""
    if made.span is None:
        return [-5, 0]
    edges = {*made.span, *(table.first_day for table in made.tables)}
    return sorted({edge + move for edge in edges for move in (-1, 0, 1)})


def moments(made: Image) -> list[Moment]:
    """Return moments at which something changes: rows, midnight, dates, clock, stop, soft start."""
    seconds = {0, 1, 43_200, 86_398, 86_399}
    for rows in made.sets:
        for row in rows[:12]:
            seconds |= {(row.second + move) % 86_400 for move in (-1, 0, 1, 7)}
    found = [Moment(day, second) for day in days(made)[:6] for second in sorted(seconds)[:60]]
    day, whole = (made.span or (0, 0))[0], 60 * made.soft_start_minutes
    found += [Moment(day, 43_200, clock_valid=False), Moment(day, 43_200, stopped=True)]
    found += [Moment(day, 43_200, stopped=True, clock_valid=False, since_start_s=0)]
    for since in (0, 1, 59, 60, whole // 3, whole // 2 + 1, whole - 1, whole, whole + 1, 10**9):
        if since >= 0:
            found += [Moment(day, second, since_start_s=since) for second in (0, 43_200, 70_000)]
    return found


def hash_of(found: NDArray[np.void]) -> int:
    """Return the hash that harness/avr.c makes of what was played."""
    outputs = found["outputs"]
    words = [found["status"].astype(np.uint32)]
    for at in range(outputs.shape[1]):
        one = outputs[:, at]
        words += [one["count"] | one["code"].astype(np.uint32) << 16, one["relay"]]
    value = 2_166_136_261
    for word in np.stack([w.astype(np.uint32) for w in words], axis=1).ravel().tolist():
        value = (value ^ word) * 16_777_619 & 0xFFFFFFFF
    return value


def with_checksum(body: bytes) -> bytes:
    """Return bytes with the checksum of an image at their end."""
    return body + struct.pack("<I", zlib.crc32(body))


@st.composite
def images(draw: st.DrawFn) -> Image:
    """Draw an image that can be played."""
    top = draw(st.sampled_from([1, 2, 9, 100, 200, 1000, 4095, 10_000, 65_534]))
    count = st.one_of(st.sampled_from([0, top]), st.integers(0, top))
    second = st.one_of(st.integers(0, 1439).map(lambda minute: 60 * minute), st.integers(0, 86_399))
    rows = st.lists(
        st.tuples(second, count, st.booleans()), min_size=1, max_size=9, unique_by=lambda r: r[0]
    ).map(sorted)
    sets = draw(st.lists(rows, min_size=1, max_size=4, unique_by=tuple))
    channels = []
    for _ in range(draw(st.integers(1, 4))):
        snap = sorted(draw(st.tuples(count, count)))
        channels.append(
            ChannelImage(
                snap_from=snap[0],
                snap_to=snap[1],
                on_count=draw(st.integers(0, top + 1)),
                safe_count=draw(count),
                safe_relay=draw(st.booleans()),
                soft_count=draw(count),
            )
        )
    set_number = st.tuples(*(st.integers(0, len(sets) - 1) for _ in channels))
    span, first_days = None, [0]
    if draw(st.booleans()):
        first_days = sorted(draw(st.sets(st.integers(0, 60_000), min_size=1, max_size=5)))
        span = first_days[0], draw(st.integers(first_days[-1], 65_535))
    full_code = draw(st.sampled_from([255, 1023, 4095, 65_535]))
    if draw(st.booleans()) and top < 5000:
        codes: Any = tuple(min(c * full_code // top, full_code) for c in range(top + 1))
    else:
        most = draw(st.sampled_from([MOST_INT32 // top, MOST_INT32]))
        addend = draw(st.integers(-(2**31), MOST_INT32))
        codes = CodeLine(draw(st.integers(0, most)), addend, draw(st.integers(0, 24)))
    return image(
        *sets,
        holds=draw(st.booleans()),
        stays=draw(st.booleans()),
        relay=draw(st.sampled_from(["none", "column", "follows-level"])),
        rounding=draw(st.sampled_from(ROUNDINGS)),
        every_seconds=draw(st.sampled_from([1, 2, 60, 675, 900, 43_200])),
        top_count=top,
        full_code=full_code,
        codes=codes,
        soft_start_minutes=draw(st.sampled_from([0, 1, 30, 240, 65_535])),
        channels=tuple(channels),
        tables=tuple(DatedTable(day, draw(set_number)) for day in first_days),
        span=span,
    )
