"""Write a folder as a whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path

from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.manifest import FILE_NAME as MANIFEST
from photoperiod.formats.manifest import FORMAT


def write_directory(target: Path, files: Mapping[str, bytes]) -> None:
    """Put files into a folder that replaces the one of that name.

    Everything is written beside the target and moved in one step, so that a full disk or a crash
    leaves the old folder as it was.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written, PHO503 if the folder holds files that are not ours.
    """
    target = Path(os.path.realpath(target))
    try:
        _refuse_foreign(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh = _beside(target, "new")
        fresh.mkdir()
    except OSError as error:
        raise _cannot_write(target, error) from error
    try:
        for name, content in files.items():
            with (fresh / name).open("xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        _swap(fresh, target)
    except OSError as error:
        raise _cannot_write(target, error) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


@contextlib.contextmanager
def written_beside(target: Path, content: bytes) -> Iterator[None]:
    """Write content beside a file, and put it in its place once all that is done meanwhile succeeds.

    So two things are written both or neither: what can fail, fails before the first is moved.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written.
    """
    target = Path(os.path.realpath(target))
    try:
        if target.exists() and not target.is_file():
            raise OutsideWorldError(
                "PHO502",
                f"'{target}' is {'a folder' if target.is_dir() else 'a device or a pipe'}, not a file",
                "nothing was written; name a file, or '-' for standard output",
            )
        fresh = _beside(target, "new")
    except OSError as error:
        raise _cannot_write(target, error) from error
    try:
        try:
            with fresh.open("xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise _cannot_write(target, error) from error
        yield
        try:
            fresh.replace(target)
        except OSError as error:
            reason = os_reason(error)
            raise OutsideWorldError(
                "PHO502",
                f"can't replace '{target}': {reason}",
                "what was to be written with it is written; make it replaceable and run this again",
            ) from error
    finally:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)


def _swap(fresh: Path, target: Path) -> None:
    if not target.exists():
        fresh.rename(target)
        return
    old = _beside(target, "old")
    target.rename(old)
    try:
        fresh.rename(target)
    except OSError:
        old.rename(target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _beside(target: Path, word: str) -> Path:
    """Return a name in the same folder that is not taken."""
    number = 0
    while True:
        path = target.parent / f".{target.name}.{word}{number or ''}"
        if not path.exists():
            return path
        number += 1


def _refuse_foreign(target: Path) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise OutsideWorldError(
            "PHO502", f"'{target}' is not a folder", "name a folder that may be replaced as a whole"
        )
    if not target.exists():
        return
    held = sorted(entry.name for entry in target.iterdir())
    ours = _listed(target / MANIFEST)
    foreign = [name for name in held if name not in ours]
    if foreign:
        shown = ", ".join(foreign[:5]) + (", …" if len(foreign) > 5 else "")
        raise OutsideWorldError(
            "PHO503",
            f"'{target}' holds files that were not written by compile: {shown}",
            "choose another folder, or move these files; the folder is replaced as a whole",
        )


def _listed(manifest: Path) -> set[str]:
    """Return the names that an earlier run wrote, nothing if there is no readable manifest."""
    try:
        data = json.loads(manifest.read_bytes())
        if data["format"] == FORMAT:
            return {MANIFEST, *data["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return set()


def _cannot_write(target: Path, error: OSError) -> OutsideWorldError:
    reason = os_reason(error)
    if isinstance(error, FileExistsError | NotADirectoryError):
        reason = "something on the way to it is a file, not a folder"
    return OutsideWorldError(
        "PHO502",
        f"can't write '{target}': {reason}",
        "nothing that stood there before was changed; "
        + ("free some space" if error.errno in (errno.ENOSPC, errno.EDQUOT) else "check its rights")
        + ", or choose another folder",
    )
