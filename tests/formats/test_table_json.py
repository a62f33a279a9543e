"""``table.json``: written, read back, refused."""

from __future__ import annotations

import json
import zlib
from typing import Any

import pytest
from hypothesis import given, settings

from photoperiod.formats import table_json
from photoperiod.formats.contents import Contents
from photoperiod.formats.integrity import FileFault, with_checksum
from photoperiod.program.model import Program
from photoperiod.source.json_schema import validate
from tests.conftest import SCHEDULE, compiled, drawn
from tests.formats.values import DAMAGES, assert_refused, contents


@settings(max_examples=drawn(25))
@given(contents())
def test_what_is_written_is_read_back(value: Contents) -> None:
    raw = table_json.write(value)
    assert table_json.read(raw) == value
    assert table_json.write(table_json.read(raw)) == raw
    assert validate(json.loads(raw), "table")[0] == []


@settings(max_examples=drawn(25))
@given(contents(), DAMAGES)
def test_a_changed_byte_or_a_cut_is_refused(value: Contents, damage: tuple[float, int]) -> None:
    assert_refused(table_json.write(value), damage)


@pytest.fixture(scope="module")
def small() -> bytes:
    return table_json.render(compiled(SCHEDULE).program, [])


def test_the_last_key_is_the_checksum_of_the_text_without_it(small: bytes) -> None:
    """As docs/exports.md tells it, by zlib alone."""
    text, _, end = small.decode().rpartition(',\n  "crc32": ')
    assert end == f'"{zlib.crc32((text + chr(10) + "}" + chr(10)).encode()):08x}"\n}}\n'


def test_rows_are_told_in_every_unit(small: bytes) -> None:
    rows = json.loads(small)["tables"][0]["channels"]["blue"]["rows"]
    # 12 bits over 10 V: 1 % is 40.96 codes. 50 % is code 2048, 5.0000 V
    assert all(row["converter_code"] == round(row["count"] * 40.96) for row in rows)
    assert all(row["volts"] == round(row["converter_code"] * 10 / 4096, 4) for row in rows)
    assert all(row["level_percent"] == row["count"] for row in rows)
    assert {row["relay"] for row in rows} == {"on", "off"}
    hours = [f"{row['second'] // 3600:02}:{row['second'] // 60 % 60:02}" for row in rows]
    assert [row["time"] for row in rows] == hours


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"format": "photoperiod-summary"}, "not the `table.json`"),
        ({"version": 2}, "version 2"),
        ({"tables": []}, "another shape"),
        ({"colour": "blue"}, "another shape"),
        ({"channels": {"blue": None}}, "another shape"),
    ],
)
def test_what_is_no_table_is_refused_though_its_checksum_fits(
    small: bytes, change: dict[str, Any], why: str
) -> None:
    data = json.loads(small)
    del data["crc32"]
    with pytest.raises(FileFault, match=why):
        table_json.read(with_checksum(data | change))


def test_a_text_laid_out_anew_is_refused(small: bytes) -> None:
    with pytest.raises(FileFault, match="laid out anew"):
        table_json.read(json.dumps(json.loads(small)).encode())
    without = {key: value for key, value in json.loads(small).items() if key != "crc32"}
    with pytest.raises(FileFault, match="has no checksum"):
        table_json.read(json.dumps(without).encode())


def test_rows_roles_and_dates_are_those_of_the_program(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    program, files = march
    data = json.loads(files["table.json"])
    assert len(data["tables"]) == len(program.tables)
    for shown, table in zip(data["tables"], program.tables, strict=True):
        assert table.span is not None
        dates = str(table.span.first), str(table.span.last)
        assert (shown["from_date"], shown["to_date"]) == dates
        for id, c in table.channels.items():
            is_at_full = id in table.plan.windows
            assert shown["channels"][id]["role"] == ("full" if is_at_full else "plan")
            rows = [(row["second"], row["count"]) for row in shown["channels"][id]["rows"]]
            assert rows == [(row.second, row.count) for row in c.fit.rows]
