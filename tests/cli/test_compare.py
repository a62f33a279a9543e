"""The options of `compare`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import Run


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
