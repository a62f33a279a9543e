"""Device files and the disk through processes: the same as without them."""

from __future__ import annotations

import inspect
import os
import signal
from pathlib import Path

import pytest

from photoperiod.board import child_files
from photoperiod.board.child_files import ChildDisk, ChildFiles, ChildLines, ChildWriters
from photoperiod.board.devices.lines import CharLines, LineUse
from photoperiod.board.devices.sysfs import Sysfs
from photoperiod.board.disk import EntryKind, LocalDisk
from photoperiod.board.worker import Patience
from photoperiod.errors import OutsideWorldError


def methods(kind: type) -> dict[str, list[str]]:
    """Return the public methods of a class with the names of what they take."""
    found = inspect.getmembers(kind, inspect.isfunction)
    return {
        name: list(inspect.signature(function).parameters)
        for name, function in found
        if not name.startswith("_")
    }


@pytest.mark.parametrize(
    ("child", "real"), [(ChildFiles, Sysfs), (ChildLines, CharLines), (ChildDisk, LocalDisk)]
)
def test_they_have_the_methods_of_the_real_ones(child: type, real: type) -> None:
    assert methods(child) == methods(real)


def test_each_device_has_its_own_process(tmp_path: Path) -> None:
    (tmp_path / "raw").write_text("12\n")
    (tmp_path / "other").write_text("1")
    writers = ChildWriters(tmp_path, Patience())
    one, other = writers.files("output of 'blue'"), writers.files("relay of 'blue'")
    assert isinstance(one, ChildFiles) and isinstance(other, ChildFiles)
    again = writers.files("output of 'blue'")
    assert isinstance(again, ChildFiles) and again.worker is one.worker
    processes = [one.worker.process, other.worker.process]
    assert processes[0].pid != processes[1].pid
    assert one.exists("raw") and one.may_write("raw") and one.names("") == ["other", "raw"]
    assert one.read("raw") == "12"
    one.write("raw", "7")
    assert other.read("raw") == "7"
    assert one.lock("raw") and not other.lock("raw") and other.lock("other")
    writers.close()
    assert [process.wait(30) for process in processes] == [0, 0]


def test_lines_through_a_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(child_files, "CHIPS", str(tmp_path))
    writers = ChildWriters(tmp_path, Patience())
    lines = writers.lines("relay of 'blue'")
    assert isinstance(lines, ChildLines) and lines.find() == []
    (tmp_path / "gpiochip0").write_text("no chip")
    with pytest.raises(OSError, match="device") as caught:
        lines.find()
    assert caught.value.filename == str(tmp_path / "gpiochip0")
    use = LineUse(consumer="tests", is_output=True)
    with pytest.raises(OSError):
        lines.take("gpiochip0", 0, use)
    for call in (lines.get, lambda: lines.set(True)):
        with pytest.raises(OSError, match="has not taken the line"):
            call()
    writers.close()
    assert lines.worker.process.wait(30) == 0


def test_without_the_library_for_lines_the_way_out_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(OutsideWorldError, match="library for them is not installed") as caught:
        ChildWriters(tmp_path, Patience()).lines("relay of 'blue'")
    assert caught.value.code == "PHO508"


def test_the_disk_through_a_process(tmp_path: Path) -> None:
    disk = ChildDisk(Patience())
    folder, file = tmp_path / "new", tmp_path / "new" / "file"
    assert disk.look(file) is None
    disk.make_folder(folder)
    disk.replace(file, b"abc")
    found = disk.look(file)
    assert found is not None and found.kind is EntryKind.FILE and disk.read(file, 2) == b"ab"
    disk.append(tmp_path / "log", b"line\r\n", b"head\r\n")
    disk.sync(tmp_path / "log")
    assert disk.names(tmp_path) == ["log", "new"]
    assert (tmp_path / "log").read_bytes() == b"head\r\nline\r\n"
    disk.remove(file)
    disk.touch(file)
    assert file.read_bytes() == b""
    with pytest.raises(IsADirectoryError):
        disk.read(folder, 1)
    assert disk.lock(tmp_path / "lock") and disk.is_locked(tmp_path / "lock")
    assert not LocalDisk().lock(tmp_path / "lock")  # this process has it, not the other one
    disk.worker.close()
    assert disk.worker.process.wait(30) == 0


def test_the_runtime_folder_has_a_process_of_its_own(tmp_path: Path) -> None:
    """A card that hangs must not keep the player from what is in memory."""
    disk = ChildDisk(Patience(), tmp_path / "run")
    disk.make_folder(tmp_path / "run")
    disk.replace(tmp_path / "card", b"1")
    os.kill(disk.worker.process.pid, signal.SIGSTOP)
    try:
        with pytest.raises(TimeoutError, match="It hangs"):
            disk.read(tmp_path / "card", 9)
        disk.replace(tmp_path / "run" / "hold", b"held")
        assert disk.read(tmp_path / "run" / "hold", 9) == b"held"
    finally:
        os.kill(disk.worker.process.pid, signal.SIGCONT)
    assert disk.memory is not None
    for worker in (disk.worker, disk.memory):
        worker.close()
        worker.process.wait(30)  # its late answer is for nobody
