"""Write a file or a folder as a whole or not at all, whenever a run is interrupted.

Everything is written beside its place, synced to the disk, and moved there. At every moment either
the old or the new file (or folder) stands under the name, complete. Whoever writes something that
must survive a power failure writes it with this module. What replaces a file is as open to others as the
file was; a link that somebody else planted is not followed.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import itertools
import os
import shutil
import stat
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.interrupts import interrupts_wait

#: What lies beside a target under our name for longer was left there by a run that was killed. [s]
STALE_S = 3600

#: More links than these on the way to a file lead in a circle; Linux counts as many.
_MOST_LINKS = 40

#: On Windows files are opened as text unless this is said.
_BINARY = getattr(os, "O_BINARY", 0)

#: Arguments of Linux's renameat2: paths are taken from the working directory, names change places.
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


def replace_file(path: Path, content: bytes) -> None:
    """Put a file in its place as a whole or not at all, also if the power fails meanwhile.

    Raises
    ------
    OSError
        If it can't be written.
    """
    with _file_beside(path, content) as fresh:
        fresh.replace(path)
    sync_folder(path.parent)


def create_file(path: Path, content: bytes) -> None:
    """Put a file where nothing stands yet, as a whole or not at all.

    Raises
    ------
    FileExistsError
        If something has that name.
    OSError
        If it can't be written.
    """
    with _file_beside(path, content) as fresh:
        try:
            os.link(fresh, path)  # unlike a move, a link never replaces
        except FileExistsError:
            raise
        except OSError:  # a file system without links, such as that of memory cards
            if os.path.lexists(path):
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
            fresh.replace(path)
    sync_folder(path.parent)


def write_file(target: Path, content: bytes) -> None:
    """Put a file in its place for a person who named it.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written.
    """
    with written_beside(target, content):
        pass


def refuse_unwritable(target: Path) -> None:
    """Raise if it can be seen already that no file can be put there, before long work for it begins.

    Raises
    ------
    OutsideWorldError
        PHO502 at a folder, a device or a pipe, or where no folder is to hold the file.
    """
    try:
        target = _followed(target)
        _refuse_other_than_file(target)
        target.parent.stat()
        if not target.parent.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    except OSError as error:
        raise _cannot_write(target, error) from error


def _refuse_other_than_file(target: Path) -> None:
    if target.exists() and not target.is_file():
        raise OutsideWorldError(
            "PHO502",
            f"'{target}' is {'a folder' if target.is_dir() else 'a device or a pipe'}, not a file",
            "nothing was written; name a file, or '-' for standard output",
        )


@contextlib.contextmanager
def written_beside(target: Path, content: bytes) -> Iterator[None]:
    """Write a file beside its place, and move it there after the body of the `with` has succeeded.

    So two things are written both or neither: what can fail, fails before the first is moved.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written.
    """
    with contextlib.ExitStack() as stack:
        try:
            target = _followed(target)
            _refuse_other_than_file(target)
            fresh = stack.enter_context(_file_beside(target, content))
        except OSError as error:
            raise _cannot_write(target, error) from error
        yield
        try:
            fresh.replace(target)
        except OSError as error:
            raise OutsideWorldError(
                "PHO502",
                f"can't replace '{target}': {os_reason(error)}",
                "the other files of this run are written; make it replaceable and run this again",
            ) from error
    _sync_after_move(target)


def replace_folder(
    target: Path,
    files: Mapping[str, bytes],
    refuse: Callable[[Path], None] = lambda _: None,
) -> None:
    """Put files into a folder that replaces the one of that name.

    A full disk, an interrupt or a crash leaves the old folder as it was, or the new one whole. On
    Linux both folders change places in one step. Elsewhere a run that is killed between two steps
    leaves the old folder under a hidden name, and the next run puts it back.

    Parameters
    ----------
    target : Path
        The folder. A link is followed, unless another person made it.
    files : mapping of str to bytes
        Content by file name.
    refuse : callable
        Called with the target before anything is written; raises if the folder must stay.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written.
    """
    try:
        target = _followed(target)
        _put_back(target)
        refuse(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        with _folder_beside(target) as fresh:
            for name, content in files.items():
                _write_synced(fresh / name, content, target / name)
            sync_folder(fresh)
            _swap(fresh, target)
    except OSError as error:
        raise _cannot_write(target, error) from error
    _sync_after_move(target)


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk; OSError if the disk fails."""
    if not hasattr(os, "O_DIRECTORY"):
        return  # Windows opens no folder
    held = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(held)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network disks sync no folder
            raise
    finally:
        os.close(held)


@contextlib.contextmanager
def _file_beside(target: Path, content: bytes) -> Iterator[Path]:
    """Write a file under a hidden name in the same folder; it is removed at the end if still there."""
    fresh = _hidden_name(target)
    try:
        _write_synced(fresh, content, target)
        yield fresh
    finally:
        _remove(fresh)


@contextlib.contextmanager
def _folder_beside(target: Path) -> Iterator[Path]:
    """Make a folder under a hidden name beside the target; it is removed at the end."""
    fresh = _hidden_name(target)
    try:
        fresh.mkdir()
        before = _status(target)
        if before is not None and hasattr(os, "O_DIRECTORY"):
            held = os.open(fresh, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
            try:
                _open_as_before(held, before)
            finally:
                os.close(held)
        yield fresh
    finally:
        _remove(fresh)


def _beside(target: Path, what: str) -> Path:
    """Return a hidden name in the same folder that nobody but this program gives: what has it may be removed.

    Keepers and other programs have files such as ``.tank.new`` and ``.tank.old`` of their own.
    """
    return target.parent / f".{target.name}.photoperiod-{what}"


def _hidden_name(target: Path) -> Path:
    """Return a name in the same folder that nothing has."""
    names = (_beside(target, f"new{number or ''}") for number in itertools.count())
    return next(path for path in names if not _stands(path))


def _stands(path: Path) -> bool:
    """Return whether something has a name; what a killed run left there is removed first."""
    try:
        age_s = time.time() - path.lstat().st_mtime
    except FileNotFoundError:
        return False
    if age_s > STALE_S:
        _remove(path)
    return os.path.lexists(path)


def _write_synced(path: Path, content: bytes, replaced: Path) -> None:
    """Write a new file, as open to others as the one that it will replace, at no moment more so."""
    before = _status(replaced)
    mode = 0o666 if before is None else 0o600
    with os.fdopen(
        os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode), "wb"
    ) as file:
        file.write(content)
        file.flush()
        if before is not None:
            _open_as_before(file.fileno(), before)
        os.fsync(file.fileno())


def _status(path: Path) -> os.stat_result | None:
    """Return what the system says of a file or a folder; None for a link, or if nothing is there."""
    try:
        status = path.lstat()
    except OSError:
        return None
    return None if stat.S_ISLNK(status.st_mode) else status


def _open_as_before(held: int, before: os.stat_result) -> None:
    """Give an open file or folder owner, group and mode as before, as far as this process may."""
    if not hasattr(os, "fchown"):
        return  # Windows
    with contextlib.suppress(OSError):  # only root gives files away; the group may be ours to give
        os.fchown(held, -1, before.st_gid)
        os.fchown(held, before.st_uid, -1)
    os.fchmod(held, stat.S_IMODE(before.st_mode))


def _followed(target: Path) -> Path:
    """Return the path behind a name, its links followed but for those that another person planted.

    In a folder that others may write into, a link of theirs could lead to any file of ours. Links of our
    own, and those of the system's owner, are followed.

    Raises
    ------
    OutsideWorldError
        PHO502 at a link of another person.
    OSError
        If links lead in a circle.
    """
    if not hasattr(os, "geteuid"):
        return Path(os.path.realpath(target))
    trusted, links = {0, os.geteuid()}, 0
    whole = Path.cwd() / target
    at, rest = Path(whole.anchor), list(whole.parts[1:])
    while rest:
        part = rest.pop(0)
        if part == "..":
            at = at.parent
            continue
        at /= part
        if not at.is_symlink():
            continue
        if at.lstat().st_uid not in trusted:
            raise OutsideWorldError(
                "PHO502",
                f"'{at}' is a link that another person made, and is not followed",
                "nothing was written; name what it leads to, if you mean that",
            )
        links += 1
        if links > _MOST_LINKS:
            raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
        way = at.readlink()
        at = Path(way.anchor) if way.anchor else at.parent
        rest = [*way.parts[1 if way.anchor else 0 :], *rest]
    return at


def _swap(fresh: Path, target: Path) -> None:
    """Give a folder the target's name; what stood there ends up under a hidden name, or is gone."""
    if not target.exists():
        fresh.rename(target)
    elif not _exchange(fresh, target):
        with interrupts_wait():
            _swap_in_two_steps(fresh, target)


def _swap_in_two_steps(fresh: Path, target: Path) -> None:
    old = _beside(target, "old")
    _remove(old)
    try:
        target.rename(old)
        fresh.rename(target)
    finally:
        _put_back(target)  # if this fails, the old folder stays where it is
        _remove(old)


def _put_back(target: Path) -> None:
    """Give the old folder its name back if a swap ended between its two steps."""
    old = _beside(target, "old")
    if os.path.lexists(old) and not os.path.lexists(target):
        old.rename(target)


def _exchange(one: Path, other: Path) -> bool:
    """Let two names change places in one step, which Linux can; return whether they did."""
    if not sys.platform.startswith("linux"):
        return False
    renameat2 = getattr(ctypes.CDLL(None), "renameat2", None)  # C libraries have it since 2018
    if renameat2 is None:
        return False
    names = os.fsencode(one), os.fsencode(other)
    done = renameat2(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE)
    return bool(done == 0)  # not every file system can; two steps then tell what is wrong, if any


def _remove(path: Path) -> None:
    """Remove a file or a folder as far as that is possible."""
    with contextlib.suppress(OSError):
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def _sync_after_move(target: Path) -> None:
    try:
        sync_folder(target.parent)
    except OSError as error:
        raise OutsideWorldError(
            "PHO502",
            f"can't sync the folder of '{target}': {os_reason(error)}",
            "what was written stands there, but may be lost if the power fails; check the disk",
        ) from error


def _cannot_write(target: Path, error: OSError) -> OutsideWorldError:
    reason = os_reason(error)
    if isinstance(error, FileExistsError | NotADirectoryError):
        reason = "something on the way to it is a file, not a folder"
    way_out = "check its rights, or choose another folder"
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        way_out = "free some space, or choose another folder"
    elif isinstance(error, FileNotFoundError) and not os.path.lexists(target.parent):
        reason = f"there is no folder '{target.parent}'"
        way_out = "make that folder, or choose another name"
    return OutsideWorldError(
        "PHO502",
        f"can't write '{target}': {reason}",
        f"nothing that stood there before was changed; {way_out}",
    )
