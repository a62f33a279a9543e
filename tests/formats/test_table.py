"""Exports read back: the same table whatever the format, and nothing that was changed."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import random

import numpy as np
import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats import records_csv, table_image, table_json
from photoperiod.formats.image import day_number
from photoperiod.formats.integrity import with_checksum
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.player.outputs import on_day
from photoperiod.program.dates import DateSpan
from photoperiod.schedule.model import Schedule
from tests.conftest import EXAMPLES, SCHEDULE, Outcome, changed, compiled

SPAN = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 4))

#: On this date new tubes burn in, in the example of new tubes.
SECOND_OF_MARCH = DateSpan(dt.date(2027, 3, 2), dt.date(2027, 3, 2))

FORMATS = {"binary": table_image, "csv": records_csv, "json": table_json}
STANDBY = changed(
    ("    dark: {kind: relay}\n", "    dark: {kind: standby, below_volts: 0.2}\n"),
    ("  relay: {kind: column}\n", "  relay: {kind: none}\n"),
)


def exports(outcome: Outcome) -> dict[str, bytes]:
    assert outcome.program is not None
    findings = outcome.report.sorted()
    return {kind: module.render(outcome.program, findings) for kind, module in FORMATS.items()}


@pytest.fixture(scope="module")
def written() -> dict[str, bytes]:
    return exports(compiled(SCHEDULE, SPAN))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_is_played_from_each_format_as_it_was_compiled(path) -> None:  # type: ignore[no-untyped-def]
    outcome = compiled(path.read_text(encoding="utf-8"), SECOND_OF_MARCH)
    program = outcome.program
    assert program is not None
    read = [read_table("x", raw) for raw in exports(outcome).values()]
    assert all(one.image.tables == read[0].image.tables for one in read)
    assert all(one.image.sets == read[0].image.sets for one in read)
    assert all(one.image.channels == read[0].image.channels for one in read)
    for date in SECOND_OF_MARCH:
        played = on_day(read[0], date)
        for id, c in program.table_on(date).channels.items():
            # snapped over the undefined band a lamp is a level above its floor at most
            snapped = c.path.is_undefined[c.replay.counts]
            np.testing.assert_allclose(
                played[id].light, c.replay.light, rtol=0, atol=2e-4 if snapped.any() else 1e-7
            )
            assert (played[id].lit == c.replay.lit).all()
            codes = [read[0].image.code_of(count) for count in range(c.path.top_count + 1)]
            assert codes == c.path.codes.tolist()


def test_the_band_between_standby_and_floor_is_snapped_over() -> None:
    read = read_table("x", exports(compiled(STANDBY))["binary"])
    (output,) = read.image.channels
    path = read.paths["blue"]
    assert (output.snap_from, output.snap_to) == (2, 10)  # 0.2 V is 2 %, the floor's 1.0 V 10 %
    played = on_day(read, dt.date(2000, 1, 1))["blue"]
    assert not path.is_undefined[played.counts].any()


@pytest.mark.parametrize("kind", sorted(FORMATS))
def test_a_changed_byte_or_a_cut_is_refused(written: dict[str, bytes], kind: str) -> None:
    raw = written[kind]
    draw = random.Random(3)
    places = range(len(raw)) if kind == "binary" else draw.sample(range(len(raw)), 250)
    for at in places:
        other = bytes([(raw[at] + draw.randint(1, 255)) % 256])
        with pytest.raises(OutsideWorldError, match="can't use") as refused:
            read_table("x", raw[:at] + other + raw[at + 1 :])
        assert refused.value.code == "PHO505"
        with pytest.raises(OutsideWorldError):
            read_table("x", raw[:at])


@pytest.mark.parametrize("raw", [b"", b"{", b"{}", b"[1]", b"PHTP", b"record", b"\xff\xfe", b"a,b\r\n",
                                 b'{"format": "photoperiod-table"}', b"[" * 100_000])  # fmt: skip
def test_what_is_no_export_is_refused_in_words(raw: bytes) -> None:
    with pytest.raises(OutsideWorldError, match="can't use 'x' as a table: it "):
        read_table("x", raw)


@pytest.mark.parametrize("damage", ["row", "zero", "date", "channels", "bits", "text"])
def test_whatever_a_table_holds_it_is_refused_and_never_raises_otherwise(
    written: dict[str, bytes], damage: str
) -> None:
    data = json.loads(written["json"])
    del data["crc32"]
    match damage:
        case "row":
            data["tables"][0]["channels"]["blue"]["rows"][0] = {}
        case "zero":
            data["controller"]["converter"]["volts_per_code"] = 0
        case "date":
            data["to_date"] = None
        case "channels":
            data["channels"] = {}
        case "bits":
            data["controller"]["converter"]["bits"] = 10**9
        case "text":
            data["tables"] = [data["tables"][0] | {"channels": {"blue": None}}]
    with pytest.raises(OutsideWorldError) as refused:
        read_table("x", with_checksum(data))
    assert refused.value.code == "PHO505"


def test_a_schedule_in_place_of_a_table_is_told_to_be_one() -> None:
    with pytest.raises(OutsideWorldError, match="it is a schedule") as refusal:
        read_table("x", SCHEDULE.encode())
    assert "photoperiod export json SCHEDULE" in refusal.value.help
    assert "copy it again" not in refusal.value.help


def test_another_version_is_refused_though_its_checksum_fits(written: dict[str, bytes]) -> None:
    data = json.loads(written["json"])
    del data["crc32"]
    with pytest.raises(OutsideWorldError, match="version 2"):
        read_table("x", with_checksum(data | {"version": 2}))
    for key in ("controller", "tables", "schedule"):
        with pytest.raises(OutsideWorldError, match="another shape"):
            read_table("x", with_checksum({k: v for k, v in data.items() if k != key}))
    for second in (-1, 86_400):
        data["tables"][0]["channels"]["blue"]["rows"][0]["second"] = second
        with pytest.raises(OutsideWorldError):
            read_table("x", with_checksum(data))


def test_the_records_are_csv_by_the_standard(written: dict[str, bytes]) -> None:
    """RFC 4180: CRLF, a header, as many fields in each record as there are columns."""
    text = written["csv"].decode("utf-8")
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    records = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len({len(record) for record in records}) == 1
    assert [record[0] for record in records].count("about") == 1
    assert int(records[-1][4]) == len(records) - 2


def test_a_title_can_not_break_any_format() -> None:
    evil = 'a",\\r\\nend,,,,0,,,00000000\\r\\n*/ {"tables": '
    outcome = compiled(
        changed(("title: Test bench", f'title: "{evil.replace(chr(34), chr(92) + chr(34))}"'))
    )
    for raw in exports(outcome).values():
        read = read_table("x", raw)
        schedule: Schedule | None = outcome.schedule
        assert schedule is not None and read.about.title == schedule.title


def test_the_safe_state_is_that_of_the_schedule() -> None:
    text = changed(("    tubes: [blue-a]\n", "    tubes: [blue-a]\n    safe_light_percent: 10\n"))
    dark: PlayableTable = read_table("x", exports(compiled(SCHEDULE))["json"])
    dim: PlayableTable = read_table("x", exports(compiled(text))["json"])
    assert (dark.image.channels[0].safe_count, dark.image.channels[0].safe_relay) == (0, False)
    (output,) = dim.image.channels
    light = dim.paths["blue"].light(np.array([output.safe_count]), np.array([True]))[0]
    # square law: 10 % light is √0.1 = 31.6 % of the root, 3.16 V; a level of 32 % gives 10.2 %
    assert output.safe_relay and output.safe_count == 32
    assert light == pytest.approx(0.10, abs=0.004)


def test_the_dates_of_tables_are_those_of_the_program(written: dict[str, bytes]) -> None:
    read = read_table("x", written["binary"])
    assert read.image.span == (day_number(SPAN.first), day_number(SPAN.last))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"time,blue_volts\n2027-03-02T12:00Z,8.9\n", "it looks like a log"),
        (
            b"channel,from_date,time,level_percent,volts,converter_code,relay\r\nblue,,09:00,13,1.3,532,on\r\n",
            "play the table.json beside it",
        ),
        ('{"format": "photoperiod-table"}'.encode("utf-16"), "the file is UTF-16"),
    ],
)
def test_what_is_something_else_is_named_so(raw: bytes, words: str) -> None:
    with pytest.raises(OutsideWorldError, match=words):
        read_table("x", raw)
