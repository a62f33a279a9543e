"""Files and folders are written whole or not at all, whenever a run ends."""

from __future__ import annotations

import errno
import itertools
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats import atomic
from photoperiod.formats.atomic import (
    STALE_S,
    create_file,
    replace_file,
    replace_folder,
    write_file,
    written_beside,
)
from tests.conftest import ROOT
from tests.formats.steps import Stopper

OLD = {"table.csv": b"old", "manifest.json": b"{}"}
NEW = {"table.csv": b"new", "manifest.json": b"{}", "summary.json": b"[]"}

SWAPS = ["one step", "two steps"]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def choose(swap: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Swap folders as Linux can, or as every system can."""
    if swap == "two steps":
        monkeypatch.setattr(atomic, "_exchange", lambda one, other: False)
        return
    for name in ("one", "other"):
        (folder / name).mkdir()
    if not atomic._exchange(folder / "one", folder / "other"):
        pytest.skip("this file system can't let two names change places")
    for name in ("one", "other"):
        (folder / name).rmdir()


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
        if path.name.startswith(".out.new"):
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


# ---- a run that ends in the middle


def interrupt() -> None:
    raise KeyboardInterrupt


def every_stop(
    run: Callable[[Path], None], prepare: Callable[[Path], None], folder: Path, *, after: bool
) -> Iterator[Path]:
    """Interrupt a run at each of its calls to the system, each in a folder of its own."""
    for at in itertools.count(1):
        place = folder / f"{at}"
        place.mkdir()
        prepare(place)
        stopper = Stopper(interrupt, at, after=after)
        with pytest.MonkeyPatch.context() as patch:
            stopper.arm(patch.setattr)
            try:
                run(place)
            except KeyboardInterrupt:
                pass
            else:  # one that comes while a folder is being removed may be lost in the library
                if stopper.calls < at:
                    return
        yield place


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("swap", SWAPS)
def test_an_interrupt_at_any_step_leaves_the_old_folder_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swap: str, after: bool
) -> None:
    choose(swap, tmp_path, monkeypatch)
    seen = []
    for place in every_stop(
        lambda folder: replace_folder(folder / "out", NEW),
        lambda folder: replace_folder(folder / "out", OLD),
        tmp_path,
        after=after,
    ):
        found = contents(place / "out")
        assert found in (OLD, NEW), place.name
        assert ".out.old" not in names(place) or found == NEW
        seen.append(found)
        replace_folder(place / "out", NEW)
        assert contents(place / "out") == NEW
    # making a folder and 3 files alone takes 1 + 3·3 calls, and 3 to sync it, before the swap
    assert seen[:10] == [OLD] * 10
    assert seen[-1] == NEW


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("write", [replace_file, write_file])
def test_an_interrupt_at_any_step_leaves_the_old_file_or_the_new_one(
    tmp_path: Path, write: Callable[[Path, bytes], None], after: bool
) -> None:
    seen = []
    for place in every_stop(
        lambda folder: write(folder / "file", b"new"),
        lambda folder: write(folder / "file", b"old"),
        tmp_path,
        after=after,
    ):
        seen.append((place / "file").read_bytes())
        assert len(names(place)) <= 2
    assert set(seen) == {b"old", b"new"}
    assert seen == sorted(seen, reverse=True)  # old ones first


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_an_interrupt_at_any_step_leaves_a_created_file_whole_or_none(
    tmp_path: Path, after: bool
) -> None:
    seen = []
    for place in every_stop(
        lambda folder: create_file(folder / "file", b"new"), lambda _: None, tmp_path, after=after
    ):
        path = place / "file"
        seen.append(path.read_bytes() if path.exists() else None)
    assert set(seen) == {None, b"new"}


def test_ctrl_c_again_and_again_waits_for_the_swap_to_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    choose("two steps", tmp_path, monkeypatch)
    target = tmp_path / "out"
    replace_folder(target, OLD)
    rename = os.rename

    def interrupted(path: Path, to: Path) -> None:
        signal.raise_signal(signal.SIGINT)
        rename(path, to)
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(os, "rename", interrupted)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt):
            replace_folder(target, NEW)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert contents(target) == NEW
    assert names(tmp_path) == ["out"]


#: Forks a run for each of its calls to the system, and has it killed there.
KILLED = """
import itertools, os, signal, sys
from pathlib import Path
from photoperiod.formats import atomic
from tests.formats.steps import Stopper
from tests.formats.test_atomic import NEW, OLD

folder, swap, after = Path(sys.argv[1]), sys.argv[2], sys.argv[3] == "after"
if swap == "two steps":
    atomic._exchange = lambda one, other: False
for at in itertools.count(1):
    target = folder / str(at) / "out"
    atomic.replace_folder(target, OLD)
    child = os.fork()
    if child == 0:
        Stopper(lambda: os.kill(os.getpid(), signal.SIGKILL), at, after=after).arm(setattr)
        atomic.replace_folder(target, NEW)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status):
        assert os.WEXITSTATUS(status) == 0
        break
    assert os.WTERMSIG(status) == signal.SIGKILL
print(at - 1)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a run that is killed is forked")
@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("swap", SWAPS)
def test_a_run_that_is_killed_at_any_step_leaves_the_old_folder_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swap: str, when: str
) -> None:
    choose(swap, tmp_path, monkeypatch)
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), swap, when],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    kills = int(done.stdout)
    assert kills > 15
    hidden = 0
    for at in range(1, kills + 1):
        target = tmp_path / str(at) / "out"
        if target.exists():
            assert contents(target) in (OLD, NEW)
        else:  # killed between the two steps
            hidden += 1
            assert contents(target.with_name(".out.old")) == OLD
        # the next run fails, and still the old folder is back
        with pytest.raises(OutsideWorldError):
            replace_folder(target, {"no/such/folder": b""})
        assert contents(target) in (OLD, NEW)
        replace_folder(target, NEW)
        assert contents(target) == NEW
    assert hidden == (1 if swap == "two steps" else 0)


def test_what_a_killed_run_has_left_is_removed_when_it_is_old(target: Path) -> None:
    left = target.with_name(".out.new")
    left.mkdir()
    (left / "table.csv").write_bytes(b"half")
    replace_folder(target, NEW)
    assert names(target.parent) == [".out.new", "out"], "another run may be writing it"
    past = left.stat().st_mtime - STALE_S - 60
    os.utime(left, (past, past))
    replace_folder(target, NEW)
    assert names(target.parent) == ["out"]
    assert contents(target) == NEW


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
