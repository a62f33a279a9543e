"""Which kernel is in use: the compiled one where it was built, else numpy."""

from __future__ import annotations

import functools
import importlib
import os
from types import ModuleType

from photoperiod.errors import WrongUse

#: The version of the compiled kernel that is called here. One of another version is not used.
VERSION = 7

#: The environment variable that chooses, and what it may say; empty for the compiled one if there is any.
CHOICE = "PHOTOPERIOD_KERNEL"
NUMPY, COMPILED = "numpy", "compiled"


class UnknownKernel(WrongUse):
    """The environment asks for a kernel that there is not."""


def compiled() -> ModuleType | None:
    """Return the compiled kernel, or None if numpy does the work.

    Raises
    ------
    UnknownKernel
        If `CHOICE` asks for another kernel than these two, or for the compiled one where there is none.
    """
    return _chosen(os.environ.get(CHOICE, ""))


def in_use() -> str:
    """Return which kernel is in use, and why, in a few words."""
    if compiled() is not None:
        return COMPILED
    if os.environ.get(CHOICE) == NUMPY:
        return f"{NUMPY} ({CHOICE} says so)"
    return f"{NUMPY} ({_built()[1]})"


@functools.lru_cache(maxsize=4)
def _chosen(choice: str) -> ModuleType | None:
    if choice not in ("", NUMPY, COMPILED):
        raise UnknownKernel(
            f"{CHOICE} is {choice!r}; it can be {NUMPY!r} or {COMPILED!r}, or left out for the compiled "
            "kernel where there is one"
        )
    if choice == NUMPY:
        return None
    module, missing = _built()
    if module is None and choice == COMPILED:
        raise UnknownKernel(f"{CHOICE} is {COMPILED!r}, but {missing}; leave it out to use numpy")
    return module


@functools.lru_cache(maxsize=1)
def _built() -> tuple[ModuleType | None, str]:
    """Return the module that was built, or None and why it can't be used."""
    try:
        module = importlib.import_module("photoperiod.kernel._paths")
    except ImportError:
        return None, "the compiled kernel was not built"
    version = getattr(module, "VERSION", None)
    if version != VERSION:
        return None, f"the compiled kernel has version {version}, not {VERSION}: install again"
    return module, ""
