"""Files and folders are written whole or not at all, whenever a run ends."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.atomic import (
    STALE_S,
    create_file,
    refuse_unwritable,
    replace_file,
    replace_folder,
    write_file,
    written_beside,
)
from tests.formats.folders import NEW, OLD, SWAPS, choose, contents, names


@pytest.fixture(params=SWAPS)
def target(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    choose(request.param, tmp_path, monkeypatch)
    replace_folder(tmp_path / "out", OLD)
    return tmp_path / "out"


# ---- a folder


def test_a_new_folder_and_those_above_it_are_made(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b"
    replace_folder(target, OLD)
    assert contents(target) == OLD
    assert names(target.parent) == ["b"]


def test_a_folder_is_replaced_as_a_whole(target: Path) -> None:
    replace_folder(target, {"only.txt": b"one"})
    assert contents(target) == {"only.txt": b"one"}
    assert names(target.parent) == ["out"]


def test_new_folders_have_the_usual_rights(target: Path) -> None:
    (target.parent / "usual").mkdir()
    replace_folder(target, NEW)
    assert target.stat().st_mode == (target.parent / "usual").stat().st_mode


def test_a_link_to_a_folder_is_followed(target: Path) -> None:
    link = target.parent / "link"
    link.symlink_to(target)
    replace_folder(link, NEW)
    assert link.is_symlink()
    assert contents(target) == NEW


def test_what_refuses_a_folder_is_asked_before_anything_is_written(target: Path) -> None:
    def refuse(folder: Path) -> None:
        assert folder == target
        raise OutsideWorldError("PHO503", "not ours")

    with pytest.raises(OutsideWorldError, match="not ours"):
        replace_folder(target, NEW, refuse)
    assert contents(target) == OLD
    assert names(target.parent) == ["out"]


def test_something_above_that_is_no_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutsideWorldError, match=r"can't write.*is a file, not a folder") as caught:
        replace_folder(tmp_path / "file" / "out", OLD)
    assert caught.value.code == "PHO502"


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
    replace_folder(target, OLD)
    with pytest.raises(OutsideWorldError, match=r"can.t write") as caught:
        replace_folder(target, {**NEW, "table.json": b"x" * 200_000})
    assert caught.value.code == "PHO502"
    assert "was changed" in caught.value.help
    assert contents(target) == OLD
    assert names(small_disk) == ["out"]


def test_a_failed_swap_puts_the_old_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    choose("two steps", tmp_path, monkeypatch)
    target = tmp_path / "out"
    replace_folder(target, OLD)
    rename = os.rename

    def fail_for_new(path: Path, to: Path) -> None:
        if path.name.startswith(".out.photoperiod-new"):
            raise OSError(errno.EIO, "Input/output error")
        rename(path, to)

    monkeypatch.setattr(os, "rename", fail_for_new)
    with pytest.raises(OutsideWorldError, match="input/output error"):
        replace_folder(target, NEW)
    assert contents(target) == OLD
    assert names(tmp_path) == ["out"]


def test_files_and_folders_are_synced_before_and_after_the_swap(
    target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda held: synced.append(os.fstat(held).st_ino))
    replace_folder(target, NEW)
    files = [(target / name).stat().st_ino for name in NEW]
    assert synced == [*files, target.stat().st_ino, target.parent.stat().st_ino]


def test_a_folder_that_can_not_be_synced_after_the_swap_is_told_of_as_such(
    target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail_for_parent(held: int) -> None:
        if os.fstat(held).st_ino == target.parent.stat().st_ino:
            raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail_for_parent)
    with pytest.raises(OutsideWorldError, match="can't sync the folder of") as caught:
        replace_folder(target, NEW)
    assert "stands there" in caught.value.help
    assert contents(target) == NEW


@pytest.mark.parametrize("number", [errno.EINVAL, errno.ENOTSUP])
def test_a_disk_that_syncs_no_folder_is_no_fault(
    target: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def only_files(held: int) -> None:
        if stat.S_ISDIR(os.fstat(held).st_mode):
            raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", only_files)
    replace_folder(target, NEW)
    assert contents(target) == NEW


def test_what_a_killed_run_has_left_is_removed_when_it_is_old(target: Path) -> None:
    left = target.with_name(".out.photoperiod-new")
    left.mkdir()
    (left / "table.csv").write_bytes(b"half")
    replace_folder(target, NEW)
    assert names(target.parent) == [".out.photoperiod-new", "out"], "another run may be writing it"
    past = left.stat().st_mtime - STALE_S - 60
    os.utime(left, (past, past))
    replace_folder(target, NEW)
    assert names(target.parent) == ["out"]
    assert contents(target) == NEW


@pytest.mark.parametrize("name", [".out.new", ".out.old"])
def test_what_a_keeper_has_beside_it_stays_however_old(target: Path, name: str) -> None:
    own = target.with_name(name)
    own.mkdir()
    (own / "notes.txt").write_bytes(b"of the keeper")
    os.utime(own, (0, 0))
    replace_folder(target, NEW)
    assert contents(own) == {"notes.txt": b"of the keeper"}
    shutil.rmtree(target)
    replace_folder(target, NEW)
    assert contents(own) == {"notes.txt": b"of the keeper"}, "it is not taken for an older output"


# ---- a file


def test_a_file_is_replaced_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    for content in (b"one", b"two"):
        replace_file(tmp_path / "file", content)
        assert (tmp_path / "file").read_bytes() == content
    assert names(tmp_path) == ["file"]


@pytest.mark.parametrize("write", [replace_file, write_file])
def test_a_file_is_synced_before_it_is_moved_and_its_folder_after(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, write: Callable[[Path, bytes], None]
) -> None:
    seen: list[tuple[int, bool]] = []
    path = tmp_path / "file"
    monkeypatch.setattr(
        os, "fsync", lambda held: seen.append((os.fstat(held).st_ino, path.exists()))
    )
    write(path, b"x")
    assert seen == [(path.stat().st_ino, False), (tmp_path.stat().st_ino, True)]


def test_a_file_that_can_not_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    replace_file(tmp_path / "file", b"old")

    def fail(_: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="Input/output"):
        replace_file(tmp_path / "file", b"new")
    assert contents(tmp_path) == {"file": b"old"}


@pytest.mark.parametrize("has_links", [True, False])
def test_a_created_file_never_replaces(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, has_links: bool
) -> None:
    def no_link(_: Path, to: Path) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    if not has_links:
        monkeypatch.setattr(os, "link", no_link)
    create_file(tmp_path / "file", b"first")
    with pytest.raises(FileExistsError):
        create_file(tmp_path / "file", b"second")
    assert contents(tmp_path) == {"file": b"first"}


def test_a_folder_or_a_pipe_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name, what in (("folder", "a folder"), ("pipe", "a device or a pipe")):
        with pytest.raises(OutsideWorldError, match=f"is {what}, not a file") as caught:
            write_file(tmp_path / name, b"x")
        assert caught.value.code == "PHO502"
    assert names(tmp_path) == ["folder", "pipe"]


@pytest.mark.parametrize("write", [refuse_unwritable, lambda path: write_file(path, b"x")])
def test_a_missing_folder_is_named(tmp_path: Path, write: Callable[[Path], None]) -> None:
    with pytest.raises(OutsideWorldError) as caught:
        write(tmp_path / "none" / "x.bin")
    assert caught.value.code == "PHO502"
    told = caught.value.told()
    assert f"there is no folder '{tmp_path / 'none'}'" in told
    assert "make that folder, or choose another name" in told and "rights" not in told
    assert names(tmp_path) == []


def test_a_file_and_what_belongs_to_it_are_written_both_or_neither(tmp_path: Path) -> None:
    ledger = tmp_path / "ledger"
    write_file(ledger, b"old")
    with pytest.raises(RuntimeError), written_beside(ledger, b"new"):
        raise RuntimeError("the other one failed")
    assert contents(tmp_path) == {"ledger": b"old"}
    with written_beside(ledger, b"new"):
        assert ledger.read_bytes() == b"old"
    assert contents(tmp_path) == {"ledger": b"new"}


def test_a_file_that_can_not_be_moved_says_that_the_other_one_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OutsideWorldError, match=r"can't replace .*: permission denied") as caught:
        write_file(tmp_path / "ledger", b"new")
    assert caught.value.code == "PHO502"
    assert names(tmp_path) == []


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o444])
def test_a_file_that_is_replaced_stays_as_open_as_it_was(tmp_path: Path, mode: int) -> None:
    for write in (replace_file, write_file):
        path = tmp_path / "ledger.json"
        path.write_bytes(b"old")
        path.chmod(mode)
        write(path, b"new")
        assert path.read_bytes() == b"new" and stat.S_IMODE(path.stat().st_mode) == mode
        path.unlink()


def test_a_folder_and_its_files_stay_as_open_as_they_were(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    replace_folder(folder, {"a": b"1", "b": b"1"})
    folder.chmod(0o750)
    (folder / "a").chmod(0o600)
    replace_folder(folder, {"a": b"2", "b": b"2", "c": b"2"})
    assert stat.S_IMODE(folder.stat().st_mode) == 0o750
    usual = stat.S_IMODE((folder / "c").stat().st_mode)
    modes = [stat.S_IMODE((folder / name).stat().st_mode) for name in "abc"]
    assert modes == [0o600, usual, usual]


def test_what_replaces_a_secret_is_at_no_moment_more_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "secret"
    path.write_bytes(b"old")
    path.chmod(0o600)
    seen = []
    fsync, fchmod = os.fsync, os.fchmod

    def look(*_: object) -> None:
        seen.extend(stat.S_IMODE(p.stat().st_mode) for p in tmp_path.iterdir())

    monkeypatch.setattr(os, "fsync", lambda held: (look(), fsync(held)))
    monkeypatch.setattr(os, "fchmod", lambda held, mode: (look(), fchmod(held, mode)))
    replace_file(path, b"new")
    assert set(seen) == {0o600} and len(seen) >= 4


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives files away"
)
def test_owner_and_group_stay(tmp_path: Path) -> None:
    path = tmp_path / "ledger.json"
    path.write_bytes(b"old")
    os.chown(path, 1234, 2345)
    replace_file(path, b"new")
    assert (path.stat().st_uid, path.stat().st_gid) == (1234, 2345)


@pytest.fixture
def planted(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path, Path], None]:
    """Make a link that another person owns."""

    def plant(link: Path, to: Path) -> None:
        link.symlink_to(to)
        if os.geteuid() == 0:
            os.lchown(link, 1234, 1234)
        else:  # then everything here is another person's
            monkeypatch.setattr(os, "geteuid", lambda: 4321)

    return plant


def test_a_link_of_another_person_is_not_followed(
    tmp_path: Path, planted: Callable[[Path, Path], None]
) -> None:
    """In a folder that all may write into, a link could lead to any file of ours."""
    ours = tmp_path / "ours"
    ours.mkdir()
    (ours / "file").write_bytes(b"mine")
    shared = tmp_path / "shared"
    shared.mkdir()
    planted(shared / "file", ours / "file")
    planted(shared / "folder", ours)
    planted(shared / "nothing", ours / "new")
    for write in (
        lambda: write_file(shared / "file", b"x"),
        lambda: write_file(shared / "nothing", b"x"),
        lambda: write_file(shared / "folder" / "file", b"x"),
        lambda: replace_folder(shared / "folder", {"file": b"x"}),
        lambda: replace_folder(shared / "folder" / "inner", {"file": b"x"}),
    ):
        with pytest.raises(OutsideWorldError, match="a link that another person made") as refusal:
            write()
        assert refusal.value.code == "PHO502"
    assert [p.name for p in ours.iterdir()] == ["file"] and (ours / "file").read_bytes() == b"mine"


def test_links_of_our_own_are_followed_step_by_step(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.mkdir()
    (tmp_path / "one").symlink_to("two")
    (tmp_path / "two").symlink_to(there)
    write_file(tmp_path / "one" / ".." / "there" / "file", b"x")
    assert (there / "file").read_bytes() == b"x"
    (there / "deep").mkdir()
    (tmp_path / "down").symlink_to("there/deep")
    write_file(tmp_path / "down" / ".." / "file", b"y")  # beside `deep`, where the link leads
    assert (there / "file").read_bytes() == b"y"
    (tmp_path / "circle").symlink_to("circle")
    with pytest.raises(OutsideWorldError, match="can't write"):
        write_file(tmp_path / "circle", b"x")
