"""The real device files."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.sysfs import NoWriters, Sysfs, take
from tests.board.fake_kernel import FakeKernel


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


def test_a_device_is_for_one_player_by_whatever_path(tmp_path: Path) -> None:
    (tmp_path / "devices").mkdir()
    (tmp_path / "devices" / "raw").write_text("0")
    (tmp_path / "name").symlink_to(tmp_path / "devices" / "raw")
    one, other = Sysfs(tmp_path), Sysfs(tmp_path / "devices")
    take(one, "name")
    take(one, "name")  # it has it already
    with pytest.raises(DeviceFault, match="another player drives 'raw': stop one of them"):
        take(other, "raw")
    with pytest.raises(DeviceFault, match="another player"):
        take(one, "devices/raw")  # two channels that mean the same device
    (tmp_path / "devices" / "raw").unlink()  # it was away, and is back
    (tmp_path / "devices" / "raw").write_text("0")
    take(one, "name")
    with pytest.raises(DeviceFault, match="another player"):
        take(other, "raw")


def test_nobody_waits_for_a_pipe_in_the_place_of_a_device(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "raw")
    files, began_s = Sysfs(tmp_path), time.monotonic()
    with pytest.raises(OSError, match="not a device file"):
        take(files, "raw")
    with pytest.raises(OSError, match="No such device or address"):
        files.write("raw", "7")
    assert files.read("raw") == ""
    assert time.monotonic() - began_s < 5


def test_without_writers_all_devices_have_the_same_files(tmp_path: Path) -> None:
    files = Sysfs(tmp_path)
    writers = NoWriters(files, FakeKernel().new_lines)
    assert writers.files("one") is writers.files("other") is files
    assert writers.lines("one") is not writers.lines("other")  # each requests one of its own
