"""``photoperiod replay``."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.source.json_schema import validate
from tests.cli.conftest import DATES, PLACE, SUN
from tests.conftest import Run


@pytest.mark.parametrize("kind", ["json", "csv", "binary"])
def test_a_moment_is_the_worked_path(run: Run, exported: Callable[..., Path], kind: str) -> None:
    """DESIGN, a worked path by hand: 89 % → code 3645 → 8.8989 V → 79.19 % light."""
    code, out, _ = run("replay", exported(kind), "--at", "13:00")
    assert code == 0
    (line,) = [line for line in out.splitlines() if line.startswith("  blue")]
    assert line.split() == ["blue", "79.19", "89", "8.899", "3645", "on"]
    assert "crest: 102.9" in out  # 0.7919 · 130 = 102.95


def test_a_day_has_its_dose(run: Run, exported: Callable[..., Path]) -> None:
    code, out, _ = run("replay", exported("binary"), "--format", "json", "--every", "60")
    data = json.loads(out)
    assert code == 0 and len(data["moments"]) == 24
    assert validate(data, "replay")[0] == []
    moment = json.loads(run("replay", exported("binary"), "--format", "json", "--at", "13:00")[1])
    assert validate(moment, "replay")[0] == []
    assert validate({**moment, "extra": 1}, "replay")[0] != []
    # by hand: plateau of ten hours and a bit at 79.19 %, two ramps of an hour about half of it
    assert data["channels"]["blue"]["full_light_hours"] == pytest.approx(8.72, abs=0.1)
    assert data["channels"]["blue"]["lit_hours"] == pytest.approx(12, abs=0.1)
    dli = data["channels"]["blue"]["full_light_hours"] * 130 * 0.0036
    assert data["dli_mol_m2_d"]["crest"] == pytest.approx(dli, abs=1e-3)


def test_a_day_as_csv_has_a_record_each_time_and_channel(
    run: Run, exported: Callable[..., Path]
) -> None:
    code, out, _ = run("replay", exported("csv"), "--format", "csv", "--every", "0.5")
    records = list(csv.DictReader(io.StringIO(out, newline="")))
    assert code == 0 and len(records) == 2 * 1440
    assert {record["channel"] for record in records} == {"blue"}


def test_moments_in_utc_are_turned_to_the_controllers_clock(
    run: Run, exported: Callable[..., Path]
) -> None:
    table = exported("binary", PLACE, dates=("--date", "2027-03-02"))
    _, local, _ = run("replay", table, "--at", "2027-03-02T09:30", "--format", "json")
    _, utc, _ = run("replay", table, "--at", "2027-03-02T10:30Z", "--format", "json")
    assert json.loads(local) == json.loads(utc)
    code, _, err = run("replay", exported("binary"), "--at", "2027-03-02T10:30Z")
    assert code == 2 and "does not say in which time zone the tank stands" in err
    assert "--time-zone Atlantic/Azores" in err and "write `place`" in err


def test_a_time_that_the_clock_leaves_out_is_said(run: Run, exported: Callable[..., Path]) -> None:
    """In the Azores clocks go forward on 2027-03-28 at 01:00 UTC: 00:00 to 00:59 do not exist."""
    civil = ("clock: standard", "clock: civil")
    table = exported("binary", PLACE, civil, dates=("--from", "2027-03-27", "--to", "2027-03-29"))
    for at in (("--at", "2027-03-28T00:00"), ("--at", "00:59:59", "--date", "2027-03-28")):
        code, out, err = run("replay", table, *at)
        assert code == 2 and out == ""
        assert "on 2027-03-28 does not exist" in err and "forward from 00:00 to 01:00" in err
    for at in (
        ("--at", "2027-03-27T23:59:59"),
        ("--at", "2027-03-28T01:00"),
        ("--at", "00:30", "--date", "2027-03-27"),
        ("--at", "2027-03-28T01:00Z"),
    ):
        assert run("replay", table, *at)[0] == 0
    table = exported("binary", PLACE, dates=("--date", "2027-03-28"))  # a standard clock has no gap
    assert run("replay", table, "--at", "2027-03-28T00:30")[0] == 0
    unplaced = exported("binary")  # its zone is not known
    assert run("replay", unplaced, "--at", "2027-03-28T00:30")[0] == 0


def test_beyond_its_dates_a_table_goes_on_and_says_so(
    run: Run, exported: Callable[..., Path]
) -> None:
    table = exported("binary", PLACE, SUN, dates=DATES)
    code, out, _ = run("replay", table, "--at", "2027-04-16T12:00")
    assert code == 0 and "after the last date of the tables: the last one goes on" in out
    code, out, _ = run("replay", table, "--date", "2027-02-28", "--every", "720")
    assert code == 0 and "before the first date" in out
    code, _, err = run("replay", table)
    assert code == 2 and "say on which date, such as --date 2027-03-01" in err
    code, _, err = run("replay", table, "--at", "12:30")
    assert code == 2 and "such as --at 2027-03-01T12:30" in err
    assert run("replay", table, "--at", "2027-03-01T12:30")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--at", "25:00"), "is no moment"),
        (("--at", "2027-03-02"), "is no moment"),
        (
            ("--at", "2027-02-30T08:00"),
            "there is no such date as 2027-02-30; the days of 2027-02 are 01 to 28",
        ),
        (("--at", "2027-02-28T25:00Z"), "there is no such time as 25:00; hours are 00 to 23"),
        (("--at", "13:00", "--every", "5"), "--every divides a day"),
        (("--at", "2027-03-02T13:00", "--date", "2027-03-02"), "names a date already"),
        (("--at", "13:00", "--format", "csv"), "CSV is for a whole day"),
        (("--every", "0"), "not in the range"),
        (("--date", "2027-02-30"), "there is no such date as 2027-02-30;"),
    ],
)
def test_wrong_use_is_told(
    run: Run, exported: Callable[..., Path], arguments: tuple[str, ...], words: str
) -> None:
    code, _, err = run("replay", exported("json"), *arguments)
    assert code == 2 and words in err


def test_the_range_of_minutes_is_told_in_few_digits(
    run: Run, exported: Callable[..., Path]
) -> None:
    _, out, _ = run("replay", "--help")
    assert "[0.0167 to 1440]" in out
    for every in ("0.0166", "1441"):
        code, _, err = run("replay", exported("json"), "--every", every)
        assert code == 2 and f"{every} is not in the range 0.0167 to 1440." in err.replace(
            ".0 ", " "
        )
    assert run("replay", exported("json"), "--every", "0.0167", "--format", "csv")[0] == 0


def test_a_table_may_come_on_standard_input(run: Run, exported: Callable[..., Path]) -> None:
    raw = exported("binary").read_bytes()
    code, out, _ = run("replay", "-", "--at", "13:00", stdin=raw)
    assert code == 0 and "79.19" in out


def test_moments_beyond_all_clocks_are_wrong_use(run: Run, exported: Callable[..., Path]) -> None:
    table = exported("binary", PLACE, dates=("--date", "2027-03-02"))
    for moment in ("9999-12-31T23:59:59Z", "0001-01-01T00:00Z"):
        code, _, err = run("replay", table, "--at", moment)
        assert code == 2 and "is not from 1901 to 2178" in err
    assert run("replay", table, "--every", "nan")[0] == 2


def test_safe_state_stop_and_soft_start(run: Run, exported: Callable[..., Path]) -> None:
    """By hand: after 600 of 1800 s at most 10 + 90/3 = 40 %; code 1638 is 3.999 V.

    The root of light is 0.1 + 0.9 · 2.999/9 = 0.3999 there, light 15.99 %.
    """
    table = exported("binary")

    def asked(*more: object) -> tuple[str, list[str]]:
        code, out, _ = run("replay", table, "--at", "13:00", *more)
        assert code == 0
        (line,) = [line for line in out.splitlines() if line.startswith("  blue")]
        return out, line.split()[1:]

    for option in ("--no-clock", "--stopped"):
        out, cells = asked(option)
        assert "(the safe state: no clock to trust, or stopped by a person)" in out
        assert cells == ["0.00", "0", "0.000", "0", "off"]
    out, cells = asked("--since-start", 600)
    assert "(a soft start holds an output down)" in out
    assert cells == ["15.99", "40", "3.999", "1638", "on"]
    out, cells = asked("--since-start", 1800)
    assert "soft start" not in out and cells[1] == "89"
    data = json.loads(run("replay", table, "--at", "13:00", "--stopped", "--format", "json")[1])
    assert validate(data, "replay")[0] == [] and len(data["status"]) == 1
    code, _, err = run("replay", table, "--stopped")
    assert code == 2 and "add --at" in err
