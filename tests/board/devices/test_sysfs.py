"""The real device files."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.board.devices.sysfs import Sysfs


def test_real_files_are_written_and_never_made(tmp_path: Path) -> None:
    files = Sysfs(tmp_path)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "raw").write_text("12345\n")
    assert files.read("a/raw") == "12345"
    files.write("a/raw", "7")
    assert (tmp_path / "a" / "raw").read_text() == "7"
    assert files.names("a") == ["raw"] and files.names("b") == []
    assert files.may_write("a/raw") and not files.may_write("a/other")
    with pytest.raises(FileNotFoundError):
        files.write("a/other", "7")
    assert not (tmp_path / "a" / "other").exists()
