"""The reference player against vectors worked by hand, and its two forms against each other."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.drive.grid import Row
from photoperiod.formats.code_line import CodeLine
from photoperiod.formats.image import (
    ROUNDINGS,
    ChannelImage,
    DatedTable,
    Image,
    decode,
    encode,
)
from photoperiod.player.reference import Output, Status, play
from tests.conftest import ROOT
from tests.player.tables import play_day

PAGE = (ROOT / "docs" / "player.md").read_text(encoding="utf-8")


def image(*rows: Row, **changes: Any) -> Image:
    """Return an image of one output and one table of no date."""
    plain = Image(
        holds=False,
        stays=False,
        relay="column",
        rounding="half-up",
        clock="standard",
        every_seconds=1,
        top_count=1000,
        full_code=65_535,
        codes=CodeLine(1, 0, 0),
        soft_start_minutes=0,
        digest=bytes(32),
        channels=(ChannelImage(),),
        sets=(tuple(rows),),
        tables=(DatedTable(0, (0,)),),
    )
    return replace(plain, **changes)


def rows_of(text: str) -> tuple[Row, ...]:
    found = []
    for item in text.split():
        second, count, *off = item.split(":")
        found.append(Row(int(second), int(count), not off))
    return tuple(found)


def vector(said: str) -> tuple[dict[str, Any], ChannelImage, int | None]:
    """Return what a vector of the page says: changes of the image and the output, since start."""
    changes: dict[str, Any] = {}
    output, since = ChannelImage(), None
    for part in filter(None, (part.strip() for part in said.split(","))):
        word, *numbers = re.split(r" (?=\d)", part)
        values = [int(number) for number in numbers]
        match word:
            case "down" | "toward-last-row":
                changes["rounding"] = word
            case "stays" | "holds":
                changes[word] = True
            case "every":
                changes["every_seconds"] = values[0]
            case "top":
                changes["top_count"] = values[0]
            case "follows-level":
                changes["relay"] = word
                output = replace(output, on_count=values[0])
            case "snap":
                output = replace(output, snap_from=values[0], snap_to=values[1])
            case "soft":
                output = replace(output, soft_count=values[0])
                changes |= {"soft_start_minutes": values[1], "top_count": values[2]}
            case "since start":
                since = values[0]
            case _:
                raise ValueError(part)
    return changes, output, since


VECTORS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.partition("## Vectors")[2].splitlines()
    if re.match(r"\| \d", line)
]


def test_the_page_has_its_vectors() -> None:
    assert len(VECTORS) >= 20


@pytest.mark.parametrize("cells", VECTORS, ids=lambda cells: f"{cells[0]} {cells[1]} at {cells[2]}")
def test_vectors_worked_by_hand(cells: list[str]) -> None:
    rows, said, second, count, relay, how = cells
    changes, output, since = vector(said)
    played = image(*rows_of(rows), channels=(output,), **changes)
    assert decode(encode(played)) == played
    status, (out,) = play(played, 0, int(second), since_start_s=since)
    assert (out.count, out.relay) == (int(count), relay == "closed")
    assert (Status.SOFT in status) == how.endswith("; soft")


def test_the_width_is_told_of() -> None:
    """The second product of the page's last vector: 65535 · 86398 is above 2^31."""
    assert not image(*rows_of("0:0 14400:850")).is_wide
    assert image(*rows_of("0:0 86399:65535"), top_count=65_535).is_wide


DATED = image(
    sets=((Row(0, 10, True),), (Row(0, 20, True),)),
    tables=(DatedTable(100, (0,)), DatedTable(110, (1,))),
    span=(100, 115),
    channels=(ChannelImage(safe_count=5, safe_relay=True),),
)


@pytest.mark.parametrize(
    ("day", "count", "status"),
    [
        (99, 10, Status.EARLY),
        (100, 10, Status.FINE),
        (109, 10, Status.FINE),
        (110, 20, Status.FINE),
        (115, 20, Status.FINE),
        (116, 20, Status.EXPIRED),
    ],
)
def test_dated_tables_go_on_beyond_their_dates(day: int, count: int, status: Status) -> None:
    assert play(DATED, day, 43_200) == (status, (Output(count, count, True),))


@pytest.mark.parametrize("why", [{"clock_valid": False}, {"stopped": True}])
def test_the_safe_state_needs_neither_day_nor_second(why: dict[str, bool]) -> None:
    for day, second in ((0, 0), (112, 43_200), (112, -1)):
        status, outputs = play(DATED, day, second, **why)  # type: ignore[arg-type]
        assert (status, outputs) == (Status.SAFE, (Output(5, 5, True),))


@pytest.mark.parametrize("second", [-1, 86_400])
def test_a_second_outside_the_day_is_an_invalid_clock(second: int) -> None:
    assert play(DATED, 112, second) == (Status.SAFE, (Output(5, 5, True),))


def test_codes_are_kept_within_the_full_code() -> None:
    """12 bits, 10 V: 1 % is 40.96 codes. 1 % → 41, 50 % → 2048; 100 % would be 4096, one too many."""
    codes = replace(DATED, codes=CodeLine(41_943, 495, 10), full_code=4095)
    assert [codes.code_of(count) for count in (0, 1, 50, 100)] == [0, 41, 2048, 4095]


@st.composite
def images(draw: st.DrawFn) -> Image:
    top = draw(st.sampled_from([1, 100, 1000, 65_535]))
    seconds = sorted(draw(st.sets(st.integers(0, 86_399), min_size=1, max_size=12)))
    counts = st.integers(0, top)
    rows = [Row(second, draw(counts), draw(st.booleans())) for second in seconds]
    snap = sorted((draw(counts), draw(counts)))
    return image(
        *rows,
        top_count=top,
        holds=draw(st.booleans()),
        stays=draw(st.booleans()),
        relay=draw(st.sampled_from(["none", "column", "follows-level"])),
        rounding=draw(st.sampled_from(ROUNDINGS)),
        every_seconds=draw(st.sampled_from([1, 60, 675, 1800])),
        channels=(ChannelImage(snap_from=snap[0], snap_to=snap[1], on_count=draw(counts)),),
    )


@given(images(), st.lists(st.integers(0, 86_399), min_size=1, max_size=40))
def test_a_day_by_arrays_is_the_same_as_each_moment(played: Image, seconds: list[int]) -> None:
    counts, relays = play_day(played, 0)
    rows = [row.second for row in played.sets[0]]
    for second in {*seconds, *rows, *((row - 1) % 86_400 for row in rows), 0, 86_399}:
        _, (out,) = play(played, 0, second)
        assert (out.count, out.relay) == (counts[0, second], relays[0, second])


@given(images())
def test_an_image_is_the_same_after_its_bytes(played: Image) -> None:
    assert decode(encode(played)) == played


@given(images(), st.integers(0, 3600))
def test_a_soft_start_never_lifts_and_ends(played: Image, since: int) -> None:
    soft = replace(played, soft_start_minutes=30)
    _, (held,) = play(soft, 0, 43_200, since_start_s=since)
    _, (free,) = play(soft, 0, 43_200)
    snapped = played.channels[0].snap_to
    assert held.count <= max(free.count, snapped)
    if since >= 1800:
        assert held == free
