"""The files of a player: torn lines, things that are no files, locks."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from photoperiod.board.disk import EntryKind, LocalDisk

HEAD = b"time,event\r\n"


def test_what_stands_under_a_name(tmp_path: Path) -> None:
    disk, file = LocalDisk(), tmp_path / "file"
    assert disk.look(file) is None and disk.look(file / "below") is None
    disk.replace(file, b"one")
    before = disk.look(file)
    assert before is not None and before.kind is EntryKind.FILE and before.size_bytes == 3
    assert disk.look(file) == before
    disk.replace(file, b"two")
    assert disk.look(file) != before  # another file of the same size
    found = disk.look(tmp_path)
    assert found is not None and found.kind is EntryKind.FOLDER


def test_the_names_in_a_folder(tmp_path: Path) -> None:
    for name in ("b", "a"):
        (tmp_path / name).touch()
    assert LocalDisk().names(tmp_path) == ["a", "b"]
    assert LocalDisk().names(tmp_path / "none") == LocalDisk().names(tmp_path / "a") == []


def test_a_pipe_is_no_file_and_nobody_waits_for_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    disk, began_s = LocalDisk(), time.monotonic()
    found = disk.look(pipe)
    assert found is not None and found.kind is EntryKind.OTHER
    for action in (
        lambda: disk.read(pipe, 10),
        lambda: disk.append(pipe, b"x\r\n", HEAD),
        lambda: disk.sync(pipe),
    ):
        with pytest.raises(OSError, match=r"pipe or a device|No such device or address"):
            action()
    assert time.monotonic() - began_s < 5  # an ordinary open would wait for ever


def test_no_more_is_read_than_asked_for(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"0123456789")
    assert LocalDisk().read(tmp_path / "file", 4) == b"0123"
    assert LocalDisk().read(tmp_path / "file", 99) == b"0123456789"
    with pytest.raises(IsADirectoryError):
        LocalDisk().read(tmp_path, 4)


def test_lines_are_appended_with_one_head(tmp_path: Path) -> None:
    disk, file = LocalDisk(), tmp_path / "new" / "file"
    disk.append(file, b"a\r\n", HEAD)
    disk.append(file, b"b\r\n", HEAD)
    assert file.read_bytes() == HEAD + b"a\r\nb\r\n"
    with file.open("ab") as torn:
        torn.write(b"half a li")
    disk.append(file, b"c\r\n", HEAD)
    assert file.read_bytes() == HEAD + b"a\r\nb\r\nc\r\n"


def test_all_of_a_text_or_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, really = tmp_path / "file", os.write
    LocalDisk().append(file, b"a\r\n", HEAD)

    def full(target: int, data: bytes) -> int:
        if len(data) < 8:
            raise OSError(28, "No space left on device")
        return really(target, data[: len(data) // 2])

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="No space"):
        LocalDisk().append(file, b"0123456789abcdef\r\n", HEAD)
    assert file.read_bytes() == HEAD + b"a\r\n"


def test_removing_and_syncing(tmp_path: Path, syncs: list[int]) -> None:
    disk, file = LocalDisk(), tmp_path / "file"
    disk.touch(file)
    disk.sync(file)
    assert len(syncs) == 1
    disk.remove(file)
    disk.sync(file)  # it is gone: somebody moved it
    assert disk.look(file) is None
    file.mkdir()
    disk.remove(file)
    assert disk.look(file) is None
    with pytest.raises(FileNotFoundError):
        disk.remove(file)


def test_a_lock_is_for_one(tmp_path: Path) -> None:
    """A lock belongs to an open file, so a second one in this process is another holder."""
    one, other, file = LocalDisk(), LocalDisk(), tmp_path / "lock"
    assert not other.is_locked(file)
    assert one.lock(file) and not other.lock(file)
    assert other.is_locked(file) and file.read_text() == f"{os.getpid()}\n"


def test_nothing_is_written_through_a_link(tmp_path: Path) -> None:
    """Whoever may make a link in a folder of logs or locks could else have any file of ours written."""
    mine, link = tmp_path / "mine", tmp_path / "run-2027-03-02.csv"
    mine.write_text("what nobody may touch")
    link.symlink_to(mine)
    disk = LocalDisk()
    for action in (lambda: disk.append(link, b"x\r\n", HEAD), lambda: disk.sync(link)):
        with pytest.raises(
            OSError, match="It is a link, and a player writes through none: remove it"
        ):
            action()
    with pytest.raises(OSError, match="symbolic link"):
        disk.lock(link)
    assert mine.read_text() == "what nobody may touch"
    assert disk.read(link, 4) == b"what"  # a table may lie behind a link
