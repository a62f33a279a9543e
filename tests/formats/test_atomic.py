"""A folder is written whole or not at all, and only over one of our own."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats import atomic
from photoperiod.formats.folder import write_folder

OLD = {
    "table.csv": b"old",
    "manifest.json": json.dumps(
        {"format": "photoperiod-manifest", "files": {"table.csv": {}}}
    ).encode(),
}
NEW = {**OLD, "table.csv": b"new"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_writes_a_new_folder_and_those_above_it(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b"
    write_folder(target, OLD)
    assert contents(target) == OLD
    assert [path.name for path in target.parent.iterdir()] == ["b"]


def test_replaces_its_own_folder_as_a_whole(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, {**OLD})
    write_folder(target, {"manifest.json": NEW["manifest.json"]})
    assert contents(target) == {"manifest.json": NEW["manifest.json"]}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_fills_an_empty_folder(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", OLD)
    assert contents(tmp_path / "out") == OLD


def test_new_folders_have_the_usual_rights(tmp_path: Path) -> None:
    (tmp_path / "usual").mkdir()
    write_folder(tmp_path / "out", OLD)
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_refuses_a_folder_with_files_of_others(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, OLD)
    (target / "diary.txt").write_text("mine")
    with pytest.raises(OutsideWorldError, match=r"not written by compile: diary\.txt") as caught:
        write_folder(target, NEW)
    assert caught.value.code == "PHO503"
    assert contents(target) == {**OLD, "diary.txt": b"mine"}


@pytest.mark.parametrize("manifest", [b"", b"[]", b"\xff", b'{"format": "other", "files": {}}'])
def test_a_manifest_that_is_not_ours_protects_nothing_of_ours(
    tmp_path: Path, manifest: bytes
) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "manifest.json").write_bytes(manifest)
    with pytest.raises(OutsideWorldError) as caught:
        write_folder(target, NEW)
    assert caught.value.code == "PHO503"
    assert contents(target) == {"manifest.json": manifest}


def test_refuses_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutsideWorldError, match="is not a folder") as caught:
        write_folder(tmp_path / "out", OLD)
    assert caught.value.code == "PHO502"
    assert (tmp_path / "out").read_text() == "mine"


def test_says_when_something_above_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutsideWorldError, match="can't write") as caught:
        write_folder(tmp_path / "file" / "out", OLD)
    assert caught.value.code == "PHO502"


def test_a_link_to_a_folder_is_followed(tmp_path: Path) -> None:
    write_folder(tmp_path / "real", OLD)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_folder(tmp_path / "link", NEW)
    assert (tmp_path / "link").is_symlink()
    assert contents(tmp_path / "real") == NEW


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KiB, as root where that can be mounted, else by a limit on files."""
    mount_point = tmp_path / "disk"
    mount_point.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(mount_point)]
    mounted = os.geteuid() == 0 and subprocess.run(command, check=False).returncode == 0
    if not mounted:
        assert not os.environ.get("CI"), "continuous integration must mount the small disk"
        import resource

        limits = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (32_768, limits[1]))
    yield mount_point
    if mounted:
        subprocess.run(["umount", str(mount_point)], check=True)
    else:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)


def test_a_full_disk_leaves_the_old_folder_as_it_was(small_disk: Path) -> None:
    target = small_disk / "out"
    write_folder(target, OLD)
    with pytest.raises(OutsideWorldError, match=r"can.t write") as caught:
        write_folder(target, {**NEW, "table.json": b"x" * 200_000})
    assert caught.value.code == "PHO502"
    assert "was changed" in caught.value.help
    assert contents(target) == OLD
    assert [path.name for path in small_disk.iterdir()] == ["out"]


def test_a_failed_swap_puts_the_old_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "out"
    write_folder(target, OLD)
    rename = Path.rename

    def fail_for_new(path: Path, to: Path) -> Path:
        if path.name.startswith(".out.new"):
            raise OSError(5, "Input/output error")
        return rename(path, to)

    monkeypatch.setattr(atomic, "_exchange", lambda one, other: False)
    monkeypatch.setattr(Path, "rename", fail_for_new)
    with pytest.raises(OutsideWorldError, match="input/output error"):
        write_folder(target, NEW)
    assert contents(target) == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
