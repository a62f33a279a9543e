"""Logs made by arithmetic of this file, with one thing wrong in each, held against a table."""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.formats import table_json
from photoperiod.program.model import DateSpan
from photoperiod.source.json_schema import validate
from tests.conftest import Run, changed, compiled

PLACE = (
    "controller:\n",
    "place: {latitude: 38.5, longitude: -28.6, time_zone: Atlantic/Azores}\ncontroller:\n",
)
SPAN = DateSpan(dt.date(2027, 3, 2), dt.date(2027, 3, 6))
DAY_S = 86_400

#: Midnight of 2027-03-02 on standard time of the Azores, an hour behind UTC.
START = dt.datetime(2027, 3, 2, 1, tzinfo=dt.UTC)

Rows = list[tuple[int, float, bool]]
Fault = Callable[[int, float, bool], tuple[float, bool] | None]


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    outcome = compiled(changed(PLACE), SPAN)
    assert outcome.program is not None
    path = tmp_path_factory.mktemp("table") / "table.json"
    path.write_bytes(table_json.render(outcome.program, outcome.report.sorted()))
    return path


def rows(table: Path) -> Rows:
    data = json.loads(table.read_bytes())
    return [
        (row["second"], row["volts"], row["relay"] == "on")
        for row in data["tables"][0]["channels"]["blue"]["rows"]
    ]


def at(rows: Rows, second: int) -> tuple[float, bool]:
    """Volts and relay at a second of the day: a line from row to row, across midnight."""
    index = max((n for n, row in enumerate(rows) if row[0] <= second), default=-1)
    (begin, volts, relay), (end, later, _) = rows[index], rows[(index + 1) % len(rows)]
    length = (end - begin) % DAY_S or DAY_S
    return volts + (later - volts) * ((second - begin) % DAY_S) / length, relay


def nothing_wrong(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
    return volts, relay


def log(
    table: Path,
    fault: Fault = nothing_wrong,
    days: int = 1,
    shift: Callable[[int], int] = lambda n: 0,
    stamp: Callable[[dt.datetime], str] = lambda moment: moment.isoformat(),
    head: str = "time,blue_volts,blue_relay",
) -> str:
    """A log by the minute; ``shift`` is by how much the clock behind it is ahead [s]."""
    found = rows(table)
    lines = [head]
    for n in range(0, days * DAY_S, 60):
        given = fault(n, *at(found, (n + shift(n)) % DAY_S))
        if given is not None:
            moment = START + dt.timedelta(seconds=n)
            lines.append(f"{stamp(moment)},{given[0]:.4f},{'on' if given[1] else 'off'}")
    return "\r\n".join(lines) + "\r\n"


Compare = Callable[..., tuple[int, str, str]]


@pytest.fixture
def compare(run: Run, table: Path, tmp_path: Path) -> Compare:
    def run_compare(text: str, *more: object) -> tuple[int, str, str]:
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode())
        return run("compare", table, path, *more)

    return run_compare


def codes(out: str) -> list[str]:
    return [line.split()[1] for line in out.splitlines() if line.startswith(("warning", "note"))]


def test_a_day_as_planned_has_nothing_to_say(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table))
    assert code == 0 and codes(out) == []
    # the worked path of the plan: 80 % from 10:00 to 20:00 and ramps of an hour: 8.8 hours, DLI 4.118
    assert "blue: 8.7" in out and "crest: 4.0" in out and "(+0.0 %)" in out


@pytest.mark.parametrize(
    ("fault", "expected", "words"),
    [
        # 7 % less volts on a square law: 1 − 0.93² = 13.5 % less light
        (lambda n, v, r: (v * 0.93, r), ["PHO601", "PHO602", "PHO602"], "13.5 % less"),
        # off from 12:00 to 14:47 of the plan: 167 minutes
        (lambda n, v, r: None if 43_200 < n < 53_200 else (v, r), ["PHO603"],
         "nothing logged for 2 h 47 min in 1 gap"),
        (lambda n, v, r: (3.0, r) if n < 38_000 else (v, r), ["PHO602", "PHO602", "PHO606"],
         "stuck at 9.0 % light"),
        (lambda n, v, r: (v, True), ["PHO607"], "relay closed where the table has it open"),
        (lambda n, v, r: (v, r and not 43_200 <= n < 46_800), ["PHO601", "PHO602", "PHO602", "PHO607"],
         "relay open where the table has it closed, first at 2027-03-02T12:00:00-01:00;"
         " otherwise than the table for 1 h 00 min"),
    ],
)  # fmt: skip
def test_each_fault_is_named(
    table: Path, compare: Compare, fault: Fault, expected: list[str], words: str
) -> None:
    code, out, _ = compare(log(table, fault))
    assert code == 1
    assert codes(out) == expected
    assert words in out


@pytest.mark.parametrize(("ahead_h", "words"), [(1, "1 h 00 min ahead"), (-1, "1 h 00 min behind"),
                                                (-9, "9 h 00 min behind")])  # fmt: skip
def test_a_clock_that_is_hours_off_is_one_mistake(
    table: Path, compare: Compare, ahead_h: int, words: str
) -> None:
    code, out, _ = compare(log(table, shift=lambda n: ahead_h * 3600))
    assert (code, codes(out)) == (1, ["PHO604"])
    assert words in out and "summer time, or another zone" in out


def test_a_clock_that_drifts_is_told_with_its_rate(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=5, shift=lambda n: 40 * n // DAY_S))
    assert (code, codes(out)) == (1, ["PHO611"])
    assert "the clock gains 40 s a day; by the last date it is 0 h 03 min ahead" in out


def test_a_clock_a_few_seconds_off_is_fine(table: Path, compare: Compare) -> None:
    assert compare(log(table, shift=lambda n: 25))[0] == 0


def test_times_without_a_zone_are_asked_for_and_then_read(table: Path, compare: Compare) -> None:
    def naive(moment: dt.datetime) -> str:
        return (moment - dt.timedelta(hours=1)).strftime("%Y-%m-%d %H:%M:%S")

    text = log(table, stamp=naive)
    code, _, err = compare(text)
    assert code == 4 and "have no offset from UTC" in err and "--log-time-zone" in err
    assert compare(text, "--log-time-zone", "controller")[0] == 0
    assert compare(text, "--log-time-zone", "Atlantic/Azores")[0] == 0  # winter: the same
    code, out, _ = compare(text, "--log-time-zone", "utc")
    assert (code, codes(out)) == (1, ["PHO604", "PHO605"])  # its first hour is of the day before
    code, _, err = compare(text, "--log-time-zone", "Atlantis")
    assert code == 2 and "no time zone 'Atlantis'" in err


def test_unix_seconds_and_milliseconds_are_instants(table: Path, compare: Compare) -> None:
    for factor in (1, 1000):
        text = log(table, stamp=lambda m, factor=factor: str(int(m.timestamp() * factor)))  # type: ignore[misc]
        assert compare(text)[0] == 0


def test_columns_with_other_names_are_told(table: Path, compare: Compare) -> None:
    text = log(table, head="time,A0,K1")
    code, _, err = compare(text)
    assert code == 4 and "none of its columns" in err and "--column NAME=blue:volts" in err
    code, out, _ = compare(text, "--column", "A0=blue:volts", "--column", "K1=blue:relay")
    assert (code, codes(out)) == (0, [])
    code, _, err = compare(text, "--column", "A1=blue:volts")
    assert code == 4 and "it has no column 'A1'" in err
    code, _, err = compare(text, "--column", "A0=blue:amperes")
    assert code == 2 and "one of count" in err


def test_a_wrong_unit_is_told(table: Path, compare: Compare) -> None:
    millivolts = log(table, lambda n, v, r: (v * 1000, r))
    code, _, err = compare(millivolts)
    assert code == 4 and "can't be volts (millivolts?)" in err
    text = millivolts.replace("blue_volts", "blue_millivolts")
    assert compare(text)[0] == 0


def test_the_ppfd_of_a_zone_is_judged_by_its_dose(table: Path, compare: Compare) -> None:
    # 130 µmol m⁻² s⁻¹ at full, square law from 1 % at 1 V: light = (volts / 10)²
    def meter(fade: float) -> str:
        lines = log(table, lambda n, v, r: ((v / 10) ** 2 * 130 * fade if r else 0.0, r))
        return lines.replace("blue_volts,blue_relay", "crest_ppfd,lamp")

    assert compare(meter(1.0))[0] == 0
    code, out, _ = compare(meter(0.9))
    assert code == 1 and "PHO602" in out and "10.0 % less" in out


def test_records_cut_off_by_a_power_failure_are_passed_over(table: Path, compare: Compare) -> None:
    lines = log(table).split("\r\n")
    lines[700] = lines[700][:23]
    code, out, _ = compare("\r\n".join(lines))
    assert (code, codes(out)) == (0, ["PHO610"]) and "in line 701" in out
    code, _, err = compare("time,blue_volts\r\n" + "x,y\r\n" * 30)
    assert code == 4 and "30 of 30 records can't be read, the first in line 2" in err


@pytest.mark.parametrize("text", ["", "\0", "time\r\n", "a,b\r\n1,2\r\n", "time,blue_volts\r\n"])
def test_what_is_no_log_is_refused_in_words(compare: Compare, text: str) -> None:
    code, _, err = compare(text)
    assert code == 4 and err.startswith("error PHO511: can't read") and "try:" in err


def test_the_verdict_as_json_has_the_numbers(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=2), "--format", "json")
    data = json.loads(out)
    assert code == 0 and data["findings"] == []
    assert validate(data, "comparison")[0] == []
    bad = json.loads(compare(log(table, lambda n, v, r: (v, True)), "--format", "json")[1])
    assert bad["findings"] and validate(bad, "comparison")[0] == []
    assert (set(data["channels"]), set(data["zones"])) == ({"blue"}, {"crest"})
    dates = data["channels"]["blue"]["dates"]
    assert list(dates) == ["2027-03-02", "2027-03-03"]
    assert dates["2027-03-02"]["given"] == pytest.approx(dates["2027-03-02"]["planned"], rel=0.002)


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


# What testers found ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "per_day_s"), [(14, -600), (14, 600), (45, 60), (2, -600), (5, -200)]
)
def test_any_drift_is_told_with_its_rate_and_nothing_else(
    table: Path, compare: Compare, days: int, per_day_s: int
) -> None:
    code, out, _ = compare(log(table, days=days, shift=lambda n: per_day_s * n // DAY_S))
    assert (code, [c for c in codes(out) if c != "PHO605"]) == (1, ["PHO611"])
    gains = "gains" if per_day_s > 0 else "loses"
    told = int(out.split(f"the clock {gains} ")[1].split()[0])
    assert told == pytest.approx(abs(per_day_s), abs=max(5, abs(per_day_s) / 20))


@pytest.mark.parametrize("behind_s", [15_420, 20_700, 41_000])
def test_a_clock_that_began_anew_is_found_to_the_minute(
    table: Path, compare: Compare, behind_s: int
) -> None:
    code, out, _ = compare(log(table, shift=lambda n: -behind_s))
    assert (code, codes(out)) == (1, ["PHO604"])
    minutes = round(behind_s / 60)
    assert f"{minutes // 60} h {minutes % 60:02d} min behind" in out and "whole or half" not in out


def test_a_clock_off_without_a_relay_in_the_log_is_still_one_mistake(
    table: Path, compare: Compare
) -> None:
    # the pair alone: what a voltmeter sees; volts also stand there while the relay is open
    text = log(table, shift=lambda n: 3600, head="time,blue_volts,lamp")
    code, out, _ = compare(text)
    assert (code, codes(out)) == (1, ["PHO604"])


def test_a_clock_that_was_set_meanwhile_is_told_from_when(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=4, shift=lambda n: 3600 if n >= 2 * DAY_S else 0))
    assert (code, codes(out)) == (1, ["PHO604"])
    assert "from 2027-03-02 right, from 2027-03-04 1 h 00 min ahead" in out


def test_a_part_of_a_day_with_a_clock_off_is_one_mistake(table: Path, compare: Compare) -> None:
    text = log(table, lambda n, v, r: (v, r) if 28_800 < n < 43_200 else None,
               shift=lambda n: 1800)  # fmt: skip
    assert compare(text)[0:1] == (1,) and codes(compare(text)[1]) == ["PHO604"]


def test_steps_a_little_late_are_right(run: Run, tmp_path: Path) -> None:
    day = ("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
           "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
           "      kind: points\n      points:\n" + "".join(
               f"        - {{time: {time}, light_percent: {light}}}\n" for time, light in (
                   ("09:00", 25), ("14:00", 25), ("14:00", 50), ("21:00", 50))))  # fmt: skip
    outcome = compiled(changed(PLACE, day), SPAN)
    assert outcome.program is not None
    steps = tmp_path / "steps.json"
    steps.write_bytes(table_json.render(outcome.program, outcome.report.sorted()))
    path = tmp_path / "log.csv"
    path.write_text(log(steps, shift=lambda n: -45), encoding="utf-8")
    code, out, _ = run("compare", steps, path)
    assert (code, codes(out)) == (0, [])


def test_noise_of_a_meter_is_no_fault_and_does_not_hide_one(table: Path, compare: Compare) -> None:
    noise = random.Random(1)

    def meter(n: int, volts: float, relay: bool) -> tuple[float, bool]:
        return volts * noise.gauss(1, 0.015), relay

    assert compare(log(table, meter))[0] == 0

    def stuck(n: int, volts: float, relay: bool) -> tuple[float, bool]:
        held = 3.0 if n < 50_000 else volts
        return held * noise.gauss(1, 0.005), relay

    code, out, _ = compare(log(table, stuck))
    assert code == 1 and "PHO606" in codes(out)


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


def test_an_open_pair_is_told(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, lambda n, v, r: (11.2 if n > 40_000 else v, r)))
    assert code == 1 and "PHO612" in codes(out) and "is the pair open (full light)" in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time;blue_volts\r\n2027-03-02T12:00:00Z;8,9\r\n", "separated by semicolons or tabs"),
        ("time,blue_volts\r\n" + "2027-03-02T12:00:00Z,8,9\r\n" * 9, "a field for each column"),
        ("time,blue_relay\r\n" + "2027-03-02T12:00:00Z,maybe\r\n" * 9, "relays on or off"),
        ("time,channel,ppfd\r\n2027-03-02T12:00:00Z,blue,100\r\n", "none of its columns"),
        ("time,blue_volts\r\n" + "inf,8\r\n" * 3, "3 of 3 records can't be read"),
        ("time,blue_volts\r\n" + "1772452800000000,8\r\n" * 3, "3 of 3 records can't be read"),
        ("time,blue_volts\r\n" + "9999-12-31T00:00:00Z,8\r\n" * 3, "3 of 3 records"),
    ],
)
def test_more_that_is_no_log(compare: Compare, text: str, words: str) -> None:
    code, _, err = compare(text)
    assert code == 4 and words in err


def test_a_glitch_is_passed_over_and_a_wrong_column_is_not(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, lambda n, v, r: (99.9 if n == 40_020 else v, r)))
    assert (code, codes(out)) == (0, ["PHO610"])
    code, _, err = compare(log(table), "--column", "blue_volts=sand:volts")
    assert code == 4 and "the table has no channel 'sand' for volts" in err


@pytest.mark.parametrize("option", ["--within-seconds", "--gap-minutes", "--light-within-percent"])
def test_no_number_is_no_limit(table: Path, compare: Compare, option: str) -> None:
    code, _, err = compare(log(table), option, "nan")
    assert code == 2 and "is not a number" in err
