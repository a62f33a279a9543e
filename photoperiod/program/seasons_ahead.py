"""Seasons chosen ahead, some in other processes, while the dates are still to be gone through in order.

Which season follows hangs on where it begins (`Begin`) and on nothing else. So where one that was chosen
ahead begins as one does that is reached in order, all that follow are the same: who chose what, and how
fast, changes no table. Channels that change nightly soon meet; others do where a table must begin, such as
at a change of a clock.
"""

from __future__ import annotations

import contextlib
import copyreg
import functools
import itertools
import pickle
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

from photoperiod.arrays import keep_freed_memory
from photoperiod.days.day_curves import DayCurves
from photoperiod.errors import WrongUse
from photoperiod.program.model import Progress
from photoperiod.program.season_days import Error, Season, SeasonDays
from photoperiod.program.season_groups import SeasonGroup
from photoperiod.program.season_runs import Ahead, Begin, season_from
from photoperiod.schedule.model import Schedule

#: Days of a piece where tables change from night to night. A piece fits a table or two more than were needed.
PIECE_DAYS = 16

#: What is known of the table of a season beside it: see `SeasonDays.looked_at`.
LookedAt = list[tuple[str, int, bool, Error]]

#: Seasons in a row: each with where it and the next one begin, and what is known of it.
Chosen = list[tuple[Begin, Season, Begin, LookedAt]]


@dataclass(frozen=True, slots=True)
class Helpers:
    """Other processes that may work on some dates of a schedule.

    Parameters
    ----------
    executor : Executor
        Where they are given work. If it breaks or is full of other work, all is done in this process.
    workers : int
        How many work at once.

    Raises
    ------
    TypeError
        If it is no executor.
    WrongUse
        If there is no worker.
    """

    executor: Executor
    workers: int = 1

    def __post_init__(self) -> None:
        if not isinstance(self.executor, Executor):
            raise TypeError(f"{type(self.executor).__name__} is no Executor of concurrent.futures")
        if self.workers < 1:
            raise WrongUse(f"{self.workers} workers can't help: one or more")


@dataclass(frozen=True, slots=True)
class SeasonHelpers:
    """Helpers, and how they make the day curves of a schedule: a function that is imported by its name."""

    helpers: Helpers
    curves_of: Callable[[Schedule], DayCurves]


class Piece(NamedTuple):
    """Some days of a group: the seasons that begin from ``first`` to before ``stop``."""

    group: int
    first: int
    stop: int


def seasons_ahead(
    groups: Mapping[int, tuple[SeasonGroup, SeasonDays]],
    helpers: SeasonHelpers,
    progress: Progress | None = None,
) -> dict[int, Ahead]:
    """Return seasons of some groups, chosen from many days on by this process and its helpers.

    What a helper can't do is left out: a fault of a day shows when the day is reached in order.

    Parameters
    ----------
    groups : mapping of int to (SeasonGroup, SeasonDays)
        The groups, by their number, each with its days in this process.
    helpers : SeasonHelpers
        The other processes.
    progress : callable or None
        Told how many days of how many are done.
    """
    pieces = [
        piece
        for number, (group, own) in groups.items()
        for piece in _pieces(number, group, own.days)
    ]
    found: dict[int, dict[Begin, tuple[Season, Begin]]] = {number: {} for number in groups}
    if len(pieces) < 2:
        return {}
    done, total = 0, sum(piece.stop - piece.first for piece in pieces)
    days = max(own.days for _, own in groups.values())
    for piece, chosen in _Shelf(pieces, groups, helpers).worked_off():
        for begin, season, following, looked_at in chosen:
            groups[piece.group][1].learn(season, looked_at)
            found[piece.group][begin] = season, following
        done += piece.stop - piece.first
        if progress is not None:
            progress(done * days // total, days)
    return dict(found)


def _pieces(number: int, group: SeasonGroup, days: int) -> Iterator[Piece]:
    """Yield pieces of a group: each begins where what begins before it is likely to meet it."""
    firsts = {0, *group.breaks, *(range(0, days, PIECE_DAYS) if group.is_fast else ())}
    edges = [*sorted(firsts), days]
    yield from (Piece(number, first, stop) for first, stop in itertools.pairwise(edges))


class _Shelf:
    """Pieces that are left. Whoever is free takes the one that takes longest."""

    def __init__(
        self,
        pieces: list[Piece],
        groups: Mapping[int, tuple[SeasonGroup, SeasonDays]],
        helpers: SeasonHelpers,
    ) -> None:
        def size(piece: Piece) -> int:
            return (piece.stop - piece.first) * len(groups[piece.group][0].samples)

        self._left = deque(sorted(pieces, key=size, reverse=True))
        self._groups, self._helpers = groups, helpers.helpers
        #: All that a helper needs of a group.
        self._recipes = {
            number: pickle.dumps((group, helpers.curves_of), pickle.HIGHEST_PROTOCOL)
            for number, (group, _) in groups.items()
        }
        self._given: list[tuple[Piece, Future[Chosen]]] = []
        self._lock = threading.Lock()

    def worked_off(self) -> Iterator[tuple[Piece, Chosen]]:
        """Yield the pieces with the seasons that were chosen."""
        try:
            for _ in range(self._helpers.workers):
                self._give()
            while (piece := self._take()) is not None:
                chosen: Chosen | None = None
                with contextlib.suppress(Exception):  # it shows again when it is reached in order
                    chosen = _chosen(*self._groups[piece.group], piece)
                if chosen is not None:
                    yield piece, chosen
            for piece, future in self._given:
                if future.exception() is None:
                    yield piece, future.result()
        finally:
            with self._lock:
                self._left.clear()

    def _take(self) -> Piece | None:
        with self._lock:
            return self._left.popleft() if self._left else None

    def _give(self, _done: Future[Chosen] | None = None) -> None:
        """Give a helper a piece, and the next one when it is done."""
        with self._lock:
            if not self._left:
                return
            piece = self._left[0]
            try:
                future = self._helpers.executor.submit(
                    _chosen_there, self._recipes[piece.group], piece
                )
            except (
                RuntimeError,
                OSError,
            ):  # broken, or no process can begin: the rest is done here
                return
            self._left.popleft()
            self._given.append((piece, future))
        future.add_done_callback(self._give)


def _reduced(mapping: MappingProxyType[Any, Any]) -> tuple[Any, ...]:
    return _proxy, (dict(mapping),)


def _proxy(mapping: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(mapping)


copyreg.pickle(MappingProxyType, _reduced)  # a schedule has some; Python can't send them by itself


@functools.lru_cache(maxsize=4)  # groups of a schedule
def _group_there(recipe: bytes) -> tuple[SeasonGroup, SeasonDays]:
    group, curves_of = pickle.loads(recipe)
    keep_freed_memory()
    return group, group.compared(curves_of(group.schedule))


def _chosen_there(recipe: bytes, piece: Piece) -> Chosen:
    """Choose the seasons of a piece in a helper."""
    return _chosen(*_group_there(recipe), piece)


def _chosen(group: SeasonGroup, compared: SeasonDays, piece: Piece) -> Chosen:
    """Return the seasons that begin in a piece, in order."""
    found: Chosen = []
    begin = Begin(piece.first, 0)
    while begin.first < piece.stop:
        season, following = season_from(
            compared, begin, light_error=group.light_error, dose_error=group.dose_error
        )
        found.append((begin, season, following, compared.looked_at(season)))
        begin = following
    return found
