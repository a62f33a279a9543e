"""The options of `compare`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import SCHEDULE, Run


@pytest.mark.parametrize("option", ["--within-seconds", "--gap-minutes", "--light-within-percent"])
def test_no_number_is_no_limit(run: Run, tmp_path: Path, option: str) -> None:
    code, _, err = run("compare", tmp_path / "t", tmp_path / "l", option, "nan")
    assert code == 2 and "is not a number" in err


def test_only_one_file_can_be_standard_input(run: Run) -> None:
    code, _, err = run("compare", "-", "-")
    assert code == 2 and "only one of TABLE and LOG can be standard input" in err


@pytest.mark.parametrize(
    "column", ["A0", "=blue:volts", "A0=:volts", "A0=blue:", "A0=blue:amperes"]
)
def test_a_column_that_is_not_explained(run: Run, tmp_path: Path, column: str) -> None:
    code, _, err = run("compare", tmp_path / "t", tmp_path / "l", "--column", column)
    assert code == 2 and "is not NAME=CHANNEL:UNIT with one of count, " in err


@pytest.mark.parametrize("word", ["HIGH", "=closed", "HIGH=on", "HIGH=closed=x"])
def test_a_relay_word_that_is_not_explained(run: Run, tmp_path: Path, word: str) -> None:
    code, _, err = run("compare", tmp_path / "t", tmp_path / "l", "--relay-word", word)
    assert code == 2 and "is not WORD=closed or WORD=open" in err


def placeless(
    run: Run, write: Callable[..., Path], folder: Path, content: str
) -> tuple[Path, Path]:
    """Return the table of a tank without a place, and a log of it."""
    table, log = folder / "table.json", folder / "log.csv"
    assert run("export", "json", write(SCHEDULE), "-o", table)[0] == 0
    log.write_text(content, encoding="utf-8")
    return table, log


def test_a_table_without_a_place_asks_where_the_tank_stands(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    table, log = placeless(run, write, tmp_path, "time,blue_volts\n2027-03-02T09:00Z,0\n")
    code, _, err = run("compare", table, log)
    assert code == 2 and "does not say in which time zone the tank stands" in err
    assert "--time-zone Atlantic/Azores" in err and "write `place`" in err


@pytest.mark.parametrize(
    ("content", "told"),
    [("", "it is empty"), ("<html>\n<p>moved</p>\n", "as a log"), (SCHEDULE, "as a log")],
)
def test_a_log_that_is_none_is_told_before_any_zone_is_asked_for(
    run: Run, write: Callable[..., Path], tmp_path: Path, content: str, told: str
) -> None:
    table, log = placeless(run, write, tmp_path, content)
    code, _, err = run("compare", table, log)
    assert code == 4 and "PHO511" in err and told in err
    assert "zone" not in err


def test_both_missing_zones_are_asked_for_at_once(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    table, log = placeless(run, write, tmp_path, "time,blue_volts\n2027-03-02T09:00,0\n")
    code, _, err = run("compare", table, log)
    assert code == 2
    assert "--time-zone Atlantic/Azores" in err and "--log-time-zone: utc, controller" in err
    code, _, err = run("compare", table, log, "--time-zone", "Atlantic/Azores")
    assert code == 4 and "--log-time-zone: utc, controller" in err
    code, _, err = run("compare", table, log, "--log-time-zone", "controller")
    assert code == 2 and "--time-zone Atlantic/Azores" in err and "lacks one" not in err
