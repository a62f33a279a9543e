"""What people read of errors that end a run."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from photoperiod.errors import (
    ExportRefused,
    OutsideWorldError,
    PhotoperiodError,
    WrongUse,
    os_reason,
)


def test_a_reason_has_neither_number_nor_path(tmp_path: Path) -> None:
    with pytest.raises(OSError) as caught:
        (tmp_path / "none").read_bytes()
    assert os_reason(caught.value) == os.strerror(errno.ENOENT).lower()


def test_an_error_without_a_number_gives_its_own_words() -> None:
    assert os_reason(OSError("The disk is away")) == "the disk is away"
    with pytest.raises(ValueError) as caught:
        Path("a\0b").read_bytes()
    assert os_reason(caught.value) == "embedded null byte"


@pytest.mark.parametrize(
    ("error", "exit_code"),
    [
        (PhotoperiodError("x"), 3),
        (WrongUse("x"), 2),
        (ExportRefused("x"), 1),
        (OutsideWorldError("PHO501", "x"), 4),
    ],
)
def test_exit_codes(error: PhotoperiodError, exit_code: int) -> None:
    assert error.exit_code == exit_code


def test_an_outside_error_shows_its_code_and_what_to_try() -> None:
    assert WrongUse("no such code").told() == "error: no such code"
    assert OutsideWorldError("PHO501", "can't read 'a'").told() == "error PHO501: can't read 'a'"
    told = OutsideWorldError("PHO501", "can't read 'a'", "check the name").told()
    assert told == "error PHO501: can't read 'a'\n  try: check the name"
