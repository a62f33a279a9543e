"""The kernel's device files. Tests put a made-up kernel in their place."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Protocol

from photoperiod.board.devices.base import DeviceFault


class Files(Protocol):
    """Small files, named relative to the root of sysfs; every method raises OSError as the kernel does."""

    def read(self, name: str) -> str:
        """Return the text of a file, without the line end."""

    def write(self, name: str, text: str) -> None:
        """Write a file that exists."""

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted; an empty list if there is no such folder."""

    def exists(self, name: str) -> bool:
        """Return True if there is such a file or folder."""

    def may_write(self, name: str) -> bool:
        """Return True if a file exists and this process may write it."""


class Sysfs:
    """The real files. None is ever created: a device that vanished must not become a plain file."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def read(self, name: str) -> str:
        """Return the text of a file, without the line end."""
        return (self.root / name).read_text(encoding="utf-8", errors="replace").strip()

    def write(self, name: str, text: str) -> None:
        """Write a file that exists, in one call as the kernel demands."""
        target = os.open(self.root / name, os.O_WRONLY | os.O_TRUNC | os.O_CLOEXEC)
        try:
            os.write(target, text.encode())
        finally:
            os.close(target)

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted."""
        try:
            return sorted(entry.name for entry in (self.root / name).iterdir())
        except OSError:
            return []

    def exists(self, name: str) -> bool:
        """Return True if there is such a file or folder."""
        return (self.root / name).exists()

    def may_write(self, name: str) -> bool:
        """Return True if a file exists and this process may write it."""
        return os.access(self.root / name, os.W_OK)


def require_writable(files: Files, name: str) -> None:
    """Raise `DeviceFault` unless a file exists and may be written."""
    if not files.exists(name):
        raise DeviceFault(f"'{name}' is not there")
    if not files.may_write(name):
        raise DeviceFault(f"'{name}' may not be written")
