"""The kernel's device files, and the fault of a device. Tests stand in for the kernel here."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Protocol


class DeviceFault(Exception):
    """A device that can't be used at the moment; the text says what happened."""


class DeviceMismatch(DeviceFault):
    """A device that is not what the board file or the table says; trying again does not help."""


class Files(Protocol):
    """Small files by names below the root of sysfs; all raise OSError as the kernel does."""

    def read(self, name: str) -> str:
        """Return what a file holds, without the line end."""

    def write(self, name: str, text: str) -> None:
        """Write a file that is there."""

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted; none if there is no such folder."""

    def exists(self, name: str) -> bool:
        """Return whether there is such a file or folder."""

    def may_write(self, name: str) -> bool:
        """Return whether a file is there and this process may write it."""


class Sysfs:
    """The real files. One is never made: a device that vanished must not become a plain file."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def read(self, name: str) -> str:
        """Return what a file holds, without the line end."""
        return (self.root / name).read_text(encoding="utf-8", errors="replace").strip()

    def write(self, name: str, text: str) -> None:
        """Write a file that is there, in one call as the kernel wants it."""
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
        """Return whether there is such a file or folder."""
        return (self.root / name).exists()

    def may_write(self, name: str) -> bool:
        """Return whether a file is there and this process may write it."""
        return os.access(self.root / name, os.W_OK)


def need(files: Files, name: str) -> None:
    """Insist on a file that may be written."""
    if not files.exists(name):
        raise DeviceFault(f"'{name}' is not there")
    if not files.may_write(name):
        raise DeviceFault(f"'{name}' may not be written")
