"""Pieces that several outputs share: rows, dates, digits."""

from __future__ import annotations

import datetime as dt
import json
import math

import pytest

from photoperiod.drive.grid import Row
from photoperiod.formats.row_text import (
    RELAY_STATES,
    accepted,
    header,
    json_bytes,
    rounded,
    setpoint_text,
    table_dates,
)
from photoperiod.program.dates import DateSpan
from tests.conftest import SCHEDULE, changed, compiled

PROGRAM = compiled(SCHEDULE).program
PATH = PROGRAM.channels["blue"].path


@pytest.mark.parametrize(("relay", "word"), [(None, ""), (True, "on"), (False, "off")])
def test_a_row_has_the_same_relay_in_words_and_back(relay: bool | None, word: str) -> None:
    text = setpoint_text(Row(0, 0, relay), PATH, 60)
    assert text.relay == word
    assert RELAY_STATES[word] is relay


def test_a_row_by_hand() -> None:
    """50 % of 10 V from 12 bits is code 2048, 5 V; 12,345 s is 3 h 25 min 45 s."""
    text = setpoint_text(Row(12_345, 50, True), PATH, 1)
    assert (text.time, text.second, text.count) == ("03:25:45", 12_345, 50)
    assert (text.level_percent, text.volts, text.converter_code) == (50.0, 5.0, 2048)
    assert setpoint_text(Row(12_300, 50, True), PATH, 60).time == "03:25"


def test_rounding_leaves_no_minus_zero() -> None:
    assert rounded(1.23456, 3) == 1.235
    assert math.copysign(1.0, rounded(-1e-9, 3)) == 1.0


def test_dates_are_those_of_the_span_or_none() -> None:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    assert table_dates(march) == {"from_date": "2027-03-01", "to_date": "2027-03-31"}
    assert table_dates(None) == {"from_date": None, "to_date": None}


def test_every_json_begins_with_its_kind_and_its_schedule() -> None:
    data = header(PROGRAM, "summary")
    assert list(data)[:2] == ["format", "version"]
    assert data["format"] == "photoperiod-summary"
    assert data["schedule"] == {"title": "Test bench", "sha256": PROGRAM.schedule.digest}


def test_accepted_findings_say_why() -> None:
    accepts = "accept:\n  - finding: ppfd-above-most\n    because: only a test\nchannels:\n  blue"
    text = changed(("ppfd_max: 200", "ppfd_max: 100"), ("channels:\n  blue", accepts))
    (found,) = accepted(compiled(text).report.sorted())
    assert (found["code"], found["name"]) == ("PHO402", "ppfd-above-most")
    assert found["because"] == "only a test"
    assert accepted([]) == []


def test_json_keeps_the_order_of_keys_and_letters() -> None:
    raw = json_bytes({"b": "Käfig", "a": 1})
    assert raw == '{\n  "b": "Käfig",\n  "a": 1\n}\n'.encode()
    assert json.loads(raw) == {"a": 1, "b": "Käfig"}
