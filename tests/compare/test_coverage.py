"""What a log covers, and what it lacks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.coverage import blank_findings, missing_findings, part_of_day_findings
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.compare.model import Limits
from photoperiod.formats.table import read_table
from photoperiod.sky.clock import Clock
from tests.board.bench import table as exported
from tests.compare.logs import (
    DAY_S,
    START,
    Compare,
    at,
    codes,
    log,
    rows,
)


def test_a_log_beyond_the_dates_is_noted(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=6))
    assert (code, codes(out)) == (0, ["PHO605"])


def test_events_of_the_player_are_shown(table: Path, compare: Compare) -> None:
    found = rows(table)
    lines = ["time,channel,volts,relay,event", "2027-03-02T01:00:00Z,,,,start"]
    for n in range(0, DAY_S, 300):
        volts, relay = at(found, n)
        moment = (START + dt.timedelta(seconds=n)).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(f"{moment},blue,{volts:.4f},{'on' if relay else 'off'},")
    code, out, _ = compare("\r\n".join(lines))
    assert (code, codes(out)) == (0, ["PHO609"]) and "2027-03-02T00:00:00-01:00 start" in out


def with_counts(table: Path, blank: tuple[int, int], volts: str) -> str:
    """A log of a day by the minute: its counts are blank in some seconds of the day, where volts are told.

    Levels are in percent, so that a count is ten times the volts.
    """
    lines = ["time,blue_count,blue_volts,blue_relay"]
    for line, n in zip(log(table).split("\r\n")[1:-1], range(0, DAY_S, 60), strict=True):
        time, given, relay = line.split(",")
        count = round(10 * float(given))
        cells = [f"{count}", f"{count / 10}"]
        if blank[0] <= n < blank[1]:
            cells = ["", volts or cells[1]]
        lines.append(",".join([time, *cells, relay]))
    return "\r\n".join(lines) + "\r\n"


def test_where_counts_are_blank_volts_are_compared(table: Path, compare: Compare) -> None:
    """At noon the table has 89 %, which is code 3645 of 4096: 0.8899² = 79.19 % light. 10 V are all of it."""
    noon = (12 * 3600, 13 * 3600)
    code, out, _ = compare(with_counts(table, noon, ""), "--within-seconds", "120")
    assert (code, codes(out)) == (0, ["PHO619"])
    assert (
        "note PHO619 column-blank: blue: count is blank in 60 records of 2027-03-02T12:00:00-01:00 to"
        " 2027-03-02T12:59:00-01:00: there volts was compared with the table\n"
    ) in out
    code, out, _ = compare(with_counts(table, noon, "10"), "--within-seconds", "120")
    assert (code, codes(out)) == (1, ["PHO601", "PHO619"])
    assert "worst deviation 20.8 % of full" in out
    assert "off by up to 20.8 % of full, at 2027-03-02T12:00:00-01:00: 100.0 % light" in out
    assert "beyond its tolerance for 1 h 00 min in all" in out


def test_a_quantity_of_each_blank_is_told_for_itself(table: Path) -> None:
    held = read_table("table.json", table.read_bytes())
    instants = START.timestamp() + 60.0 * np.arange(4)
    parts = [(Quantity.COUNT, 1), (Quantity.VOLTS, 3), (Quantity.LIGHT_PERCENT, 4)]
    series = {
        ("blue", quantity): Series("blue", quantity, instants[:end], np.zeros(end))
        for quantity, end in parts
    }
    expected = Expected(held, held.clock(None))
    found = list(blank_findings(held, expected, Log(series=series)))
    assert [(one.code, one.subject, one.is_warning) for one in found] == [
        ("PHO619", "blue", False)
    ] * 2
    assert [one.message for one in found] == [
        "count is blank in 2 records of 2027-03-02T00:01:00-01:00 to 2027-03-02T00:02:00-01:00: there volts"
        " was compared with the table",
        "count and volts are blank in 1 record of 2027-03-02T00:03:00-01:00: there light_percent was compared"
        " with the table",
    ]


def test_what_is_not_compared_is_a_warning(table: Path, compare: Compare) -> None:
    text = log(table).replace("blue_volts", "blue_volt")
    code, out, _ = compare(text)
    assert code == 1 and {"PHO608", "PHO613", "PHO614"} <= set(codes(out))
    assert "did you mean 'blue_volts'?" in out
    code, out, _ = compare("time,blue_volts\r\n2027-03-02T12:00:00Z,8.9\r\n")
    assert code == 1 and "PHO614" in codes(out)
    assert compare(log(table), "--channel", "blue")[0] == 0
    code, _, err = compare(log(table), "--channel", "bleu")
    assert code == 2 and "did you mean 'blue'?" in err


def test_a_log_that_ends_early_beside_another_has_a_gap(table: Path, compare: Compare) -> None:
    lines = log(table, head="time,blue_volts,blue_relay").split("\r\n")
    head, records = lines[0] + ",crest_ppfd", lines[1:-1]
    text = [head]
    for n, record in enumerate(records):
        stamp, volts, relay = record.split(",")
        ppfd = (float(volts) / 10) ** 2 * 130 if relay == "on" else 0.0
        text.append(f"{stamp},{volts},{relay},{ppfd:.2f}" if n < 840 else f"{stamp},,,{ppfd:.2f}")
    code, out, _ = compare("\r\n".join([*text, ""]))
    assert (code, codes(out)) == (1, ["PHO603"])
    assert "blue: nothing logged for 10 h 00 min in 1 gap" in out


@pytest.mark.parametrize(("minutes", "is_gap"), [(10, False), (11, True)])
def test_a_gap_is_longer_than_its_limit(
    table: Path, compare: Compare, minutes: int, is_gap: bool
) -> None:
    text = log(table, lambda n, v, r: None if 3600 < n < 3600 + minutes * 60 else (v, r))
    code, out, _ = compare(text)
    assert (code, codes(out)) == ((1, ["PHO603"]) if is_gap else (0, []))
    if is_gap:
        assert "blue: nothing logged for 0 h 11 min in 1 gap, the longest of 0 h 11 min from" in out
        assert "from 2027-03-02T01:00:00-01:00" in out


def test_a_channel_that_must_be_in_the_log_is_blamed(table: Path, compare: Compare) -> None:
    text = log(
        table, lambda n, v, r: ((v / 10) ** 2 * 130 if r else 0.0, r), head="time,crest_ppfd,lamp"
    )
    assert compare(text)[0] == 0  # PPFD stands for the channels
    code, out, _ = compare(text, "--channel", "blue")
    assert (code, codes(out)) == (1, ["PHO608"]) and "blue: its light is not in the log" in out


def test_a_log_that_ends_at_noon_is_no_day(table: Path, compare: Compare) -> None:
    text = log(table, lambda n, v, r: (v, r) if n <= 43_200 else None)
    code, out, _ = compare(text)
    assert (code, codes(out)) == (1, ["PHO603"])
    assert "whole days would take 12 h 00 min more, and what happened then is not known" in out
    assert compare(text, "--part-of-day")[0] == 0


def test_a_week_that_ends_at_noon_is_no_week(table: Path, compare: Compare) -> None:
    code, out, _ = compare(
        log(table, lambda n, v, r: (v, r) if n <= 2 * DAY_S + 43_200 else None, days=3)
    )
    assert (code, codes(out)) == (1, ["PHO603"])


@pytest.mark.parametrize("begins_s", [0, 3600, 50_000])
def test_a_day_may_begin_at_any_time(table: Path, compare: Compare, begins_s: int) -> None:
    """Our player begins a file at midnight of UTC; other loggers where they were switched on."""
    text = log(table, lambda n, v, r: (v, r) if begins_s <= n < begins_s + DAY_S else None, days=2)
    assert (compare(text)[0], codes(compare(text)[1])) == (0, [])


def test_a_day_of_25_hours_is_whole() -> None:
    """The Azores set their clocks back on 2027-10-31: that civil date takes 25 h."""
    held = read_table("t", exported((0, 80)))
    begin = dt.datetime(2027, 10, 31, tzinfo=dt.UTC).timestamp()
    for clock, ends_h, is_whole in (
        (Clock.civil("Atlantic/Azores"), 25, True),
        (Clock.standard("Atlantic/Azores"), 25, True),  # the log may be of the civil day
        (Clock.standard("Atlantic/Azores"), 24, True),
        (Clock.utc(), 25, False),
        (Clock.civil("Atlantic/Azores"), 26, False),
    ):
        span = (begin, begin + ends_h * 3600)
        found = list(part_of_day_findings(Expected(held, clock), Limits(), span))
        assert (found == []) is is_whole, (clock, ends_h)


def test_a_meter_stands_for_the_channels_that_light_its_zone_only() -> None:
    held = read_table("t", exported((0, 80), channels=("blue", "white")))
    unix_s = np.array([0.0, 60.0])
    ppfd = Log(series={("crest", Quantity.PPFD): Series("crest", Quantity.PPFD, unix_s, unix_s)})
    assert list(missing_findings(held, ppfd, ())) == []
    sand = Log(series={("sand", Quantity.PPFD): Series("sand", Quantity.PPFD, unix_s, unix_s)})
    found = list(missing_findings(held, sand, ()))
    assert [(one.code, one.subject) for one in found][:2] == [
        ("PHO608", "blue"),
        ("PHO608", "white"),
    ]


def test_a_time_in_doubt_is_noted(table: Path, compare: Compare) -> None:
    """The log of one hour that comes twice, of which it has one pass."""
    text = "time,blue_volts\n" + "".join(f"2027-10-31 00:{n:02d},1\n" for n in range(60))
    _, out, _ = compare(text, "--log-time-zone", "Atlantic/Azores", "--part-of-day")
    assert "note PHO617 time-in-doubt: 2027-10-31 00:00 comes twice" in out
