"""The binary export: an image together with its description."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace

import pytest
from hypothesis import given, settings

from photoperiod.drive.grid import Row
from photoperiod.errors import OutsideWorldError
from photoperiod.formats import table_image
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows, contents_of
from photoperiod.formats.image import decode, encode
from photoperiod.formats.integrity import FileFault
from photoperiod.formats.table import read_table
from tests.conftest import SCHEDULE, changed, compiled, drawn
from tests.formats.values import DAMAGES, assert_refused, contents


@settings(max_examples=drawn(25))
@given(contents())
def test_what_is_written_is_read_back(value: Contents) -> None:
    raw = table_image.write(value)
    about, image = table_image.read(raw)
    assert about == value.about
    assert replace(image, about=b"") == table_image.image_of(value)
    rows = [
        [[(row.second, row.count, row.relay) for row in image.sets[index]] for index in table.sets]
        for table in image.tables
    ]
    assert rows == [
        [[(row.second, row.count, row.relay is not False) for row in c.rows] for c in t.channels.values()]
        for t in value.tables
    ]  # fmt: skip


@settings(max_examples=drawn(25))
@given(contents(), DAMAGES)
def test_a_changed_byte_or_a_cut_is_refused(value: Contents, damage: tuple[float, int]) -> None:
    assert_refused(table_image.write(value), damage)


def test_rows_that_come_again_are_kept_once() -> None:
    once = contents_of(compiled(SCHEDULE).program, [])
    (table,) = once.tables
    twice = Contents(once.about, (table, table))
    assert len(table_image.image_of(twice).sets) == 1
    other = {"blue": ChannelRows(rows=(Row(0, 1, True),))}
    third = DatedRows(from_date=None, to_date=None, channels=other)
    image = table_image.image_of(Contents(once.about, (table, third, table)))
    assert [table.sets for table in image.tables] == [(0,), (1,), (0,)]


def test_an_image_that_tells_of_another_one_is_refused() -> None:
    raw = table_image.render(compiled(SCHEDULE).program, [])
    image = decode(raw)
    for change in ({"soft_start_minutes": 7}, {"every_seconds": 2}, {"clock": "utc"}):
        with pytest.raises(FileFault, match="its description does not match its tables"):
            table_image.read(encode(replace(image, **change)))  # type: ignore[arg-type]


@pytest.mark.parametrize("about", [b"", b"{}", b'{"version": 1}', b"\xff", b"[" * 100_000])
def test_an_image_that_tells_nothing_is_refused(about: bytes) -> None:
    image = decode(table_image.render(compiled(SCHEDULE).program, []))
    with pytest.raises(OutsideWorldError) as refused:
        read_table("x", encode(replace(image, about=about)))
    assert refused.value.code == "PHO505"


def test_the_band_without_defined_light_is_snapped_over() -> None:
    text = changed(
        ("    dark: {kind: relay}\n", "    dark: {kind: standby, below_volts: 0.2}\n"),
        ("  relay: {kind: column}\n", "  relay: {kind: none}\n"),
    )
    image = table_image.image_of(contents_of(compiled(text).program, []))
    (output,) = image.channels
    # of levels of 1 %: standby ends at 0.2 V, which is 2 %; the floor's 1.0 V is 10 %
    assert (output.snap_from, output.snap_to) == (2, 10)
    assert output.soft_count == 10


def test_a_relay_that_follows_the_level_closes_from_its_count_on() -> None:
    text = changed(
        ("  relay: {kind: column}\n", "  relay: {kind: follows-level, on_level_percent: 5.5}\n")
    )
    (output,) = table_image.image_of(contents_of(compiled(text).program, [])).channels
    assert output.on_count == 6  # the first whole percent at or above 5.5 %


def test_the_file_is_the_bare_image_and_its_text() -> None:
    raw = table_image.render(compiled(SCHEDULE).program, [])
    bare = encode(table_image.image_of(contents_of(compiled(SCHEDULE).program, [])))
    told = decode(raw).about
    assert len(raw) == len(bare) + len(told)
    assert raw[-4:] == struct.pack("<I", zlib.crc32(raw[:-4]))
