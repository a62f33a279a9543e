"""A folder before and after it is replaced. Runs that are killed import this, too: so without pytest."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from photoperiod.formats import atomic

if TYPE_CHECKING:
    import pytest

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
        import pytest

        pytest.skip("this file system can't let two names change places")
    for name in ("one", "other"):
        (folder / name).rmdir()
