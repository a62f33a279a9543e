"""``table.csv``: the rows for people and for controllers."""

from __future__ import annotations

import csv
import io

from photoperiod.formats import table_csv
from photoperiod.program.model import Program
from photoperiod.text import clock_text
from tests.conftest import SCHEDULE, changed, compiled


def records(raw: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(raw.decode(), newline=""), strict=True))


def test_every_table_stands_there_with_its_date(march: tuple[Program, dict[str, bytes]]) -> None:
    program, files = march
    expected = [
        (str(t.span.first), id, clock_text(row.second))
        for t in program.tables if t.span
        for id, c in t.channels.items()
        for row in c.fit.rows
    ]  # fmt: skip
    rows = records(files["table.csv"])
    assert [(row["from_date"], row["channel"], row["time"]) for row in rows] == expected


def test_a_row_tells_level_volts_code_and_relay() -> None:
    rows = records(table_csv.render(compiled(SCHEDULE).program, []))
    assert {row["from_date"] for row in rows} == {""}
    # 12 bits over 10 V: a level of 1 % is 40.96 codes, a code is 10/4096 V
    for row in rows:
        code = round(float(row["level_percent"]) * 40.96)
        assert int(row["converter_code"]) == code
        assert row["volts"] == f"{code * 10 / 4096:.4f}"
    assert {row["relay"] for row in rows} == {"on", "off"}


def test_seconds_are_shown_and_the_relay_is_left_out_as_the_controller_has_them() -> None:
    text = changed(
        ("  relay: {kind: column}\n", "  relay: {kind: follows-level, on_level_percent: 5}\n"),
        ("  time_step_minutes: 1\n", "  time_step_minutes: 0.5\n"),
    )
    rows = records(table_csv.render(compiled(text).program, []))
    assert {row["relay"] for row in rows} == {""}
    assert all(row["time"].count(":") == 2 for row in rows)
