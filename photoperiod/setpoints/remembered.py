"""Fits that were made before in this process, by all that they hang on.

Who edits a file and compiles it again, or looks for a day, asks for most tables once more. What comes back
is equal in every byte to what a new fit would give, and is an object of its own: nothing depends on
whether it was remembered.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from photoperiod.arrays import Floats, stretch_of_true
from photoperiod.drive.grid import TimeGrid
from photoperiod.setpoints.certificate import Fit
from photoperiod.setpoints.problem import Target

#: So many fits are remembered, the ones asked for last; one takes some kilobytes.
MOST_REMEMBERED = 512

#: What a fit takes from the question; all else is remembered.
_ASKED = ("times", "path")

Fitter = Callable[[Sequence[Target], TimeGrid, int], list[Fit]]


class Remembered:
    """Asks a fitter once for the same thing.

    Parameters
    ----------
    fitter : callable
        Returns a table for each target. What it gives must hang on the targets, the grid of times and the
        rows alone.
    most : int
        So many answers are remembered.
    """

    def __init__(self, fitter: Fitter, most: int = MOST_REMEMBERED) -> None:
        self._fitter, self._most = fitter, most
        self._known: OrderedDict[Hashable, list[dict[str, Any]]] = OrderedDict()
        self._lock = threading.Lock()

    def __call__(self, targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
        """Return a table for each of some targets."""
        key = (tuple(map(_key_of, targets)), times, row_limit)
        with self._lock:
            known = self._known.get(key)
            if known is not None:
                self._known.move_to_end(key)
        if known is None:
            fits = self._fitter(targets, times, row_limit)
            with self._lock:
                self._known[key] = [_kept(found) for found in fits]
                while len(self._known) > self._most:
                    self._known.popitem(last=False)
            return fits
        return [
            Fit(times=times, path=target.path, **kept)
            for target, kept in zip(targets, known, strict=True)
        ]

    def forget(self) -> None:
        """Forget all fits."""
        with self._lock:
            self._known.clear()


def _key_of(target: Target) -> Hashable:
    """Return all that a fit hangs on, without what takes much memory."""
    path = target.path
    parts = tuple(getattr(path, each.name) for each in fields(path))
    plan = _digest(target.reachable)
    rest = tuple(
        getattr(target, each.name)
        for each in fields(target)
        if each.name not in ("name", "reachable", "path")
    )
    return parts, plan, rest


def _digest(light: Floats) -> bytes:
    """Return what stands for the light of a day: light that is the same for long takes little time."""
    lit = stretch_of_true(light != 0)
    by_day = light[lit]
    begins = np.flatnonzero(by_day[1:] != by_day[:-1]) + 1
    found = hashlib.sha256(repr((light.size, lit.start, lit.stop, begins.size)).encode())
    if 2 * begins.size > by_day.size:
        found.update(np.ascontiguousarray(by_day).data)
    else:
        found.update(begins.tobytes() + by_day[:1].tobytes() + by_day[begins].tobytes())
    return found.digest()


def _kept(found: Fit) -> dict[str, Any]:
    return {
        each.name: getattr(found, each.name) for each in fields(found) if each.name not in _ASKED
    }
