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
    assert os_reason(caught.value) == "no such file or folder"


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (errno.ENOENT, "no such file or folder"),
        (errno.EISDIR, "is a folder"),
        (errno.ENOTDIR, "not a folder"),
        (errno.ENOTEMPTY, "folder not empty"),
        (errno.EACCES, "permission denied"),
    ],
)
def test_a_reason_says_folder_as_all_our_texts_do(number: int, expected: str) -> None:
    """Words of the other operating systems differ; those of Linux are in strerror(3)."""
    assert os_reason(OSError(number, os.strerror(number), "a-directory")) == expected


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


def test_what_is_told_is_safe_for_a_terminal() -> None:
    evil = OutsideWorldError("PHO501", "can't read 'a\x1b[2J\nerror PHO999: x'", "move '\r'")
    assert evil.told() == (
        "error PHO501: can't read 'a\\x1b[2J\\x0aerror PHO999: x'\n  try: move '\\x0d'"
    )
    assert WrongUse("no \x1b").told() == "error: no \\x1b"
