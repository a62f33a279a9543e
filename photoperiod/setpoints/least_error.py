"""Grow an error until some table keeps it, then shrink it until none does.

The last refusal is the proof: no table has an error that small. This search knows nothing of tables;
what is tried, and how far apart errors are tried, is up to its `Question`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

from photoperiod.setpoints.work import WorkSpent


class HasError(Protocol):
    """An answer: a table, or what makes one."""

    @property
    def error(self) -> float:
        """The error that it has."""
        ...


Answer = TypeVar("Answer", bound=HasError)


class Question(Protocol[Answer]):
    """Is there a table that keeps an error, and which errors are worth asking about?"""

    #: Errors that differ by less are the same.
    resolution: float

    def first(self, bound: float) -> float:
        """Return the first error to be tried, given one that no table has less than."""
        ...

    def attempt(self, error: float, best: Answer | None) -> Answer | None:
        """Return a table that keeps an error, None if there is none.

        ``best`` is what was found for a greater error. Raises `WorkSpent.Exhausted` if the answer
        takes too much work.
        """
        ...

    def larger(self, refused: float) -> float:
        """Return the error to be tried after a refusal while no table is found."""
        ...

    def smaller(self, refused: float, best: float) -> float:
        """Return the error to be tried between one that was refused and one that a table has."""
        ...

    def is_close(self, best: float, refused: float, proven: float) -> bool:
        """Return whether the gap between the best error and the refused one is small enough."""
        ...

    def is_spent(self) -> bool:
        """Return whether no more work may be done."""
        ...


def least_error(
    question: Question[Answer], bound: float, known_error: float
) -> tuple[Answer | None, float]:
    """Return the best table that was found, and an error that no table has less than.

    Parameters
    ----------
    question : Question
        Answers whether a table keeps an error.
    bound : float
        No table has a smaller error.
    known_error : float
        Some table is known to have this one; no greater error is tried.

    Returns
    -------
    best : Answer or None
        None if no table was found, before the work was spent, that keeps ``known_error``.
    proven : float
        At least ``bound``.
    """
    best: Answer | None = None
    # Every error up to `proven` was refused. Up to `refused` some took too much work to tell: they are
    # passed over, so that the search goes on, but then no later refusal moves `proven`.
    proven = refused = bound
    error = min(question.first(bound), known_error)
    while not question.is_spent():
        if best is not None and question.is_close(best.error, refused, proven):
            break
        try:
            found = question.attempt(error, best)
        except WorkSpent.Exhausted:
            refused = max(error, refused + question.resolution)
        else:
            if found is not None:
                best = found
            else:
                proven = error if refused == proven else proven
                refused = error
        if best is not None:
            error = question.smaller(refused, best.error)
        elif refused >= known_error:
            break
        else:
            error = min(question.larger(refused), known_error)
    return best, proven


def halved(
    fits: Callable[[float], bool], low: float, high: float, times: int
) -> tuple[float, float]:
    """Return the ends of an interval after it was halved some times around what just fits.

    Parameters
    ----------
    fits : callable
        Whether something fits with an error; if it fits with one, it fits with every greater one.
    low, high : float
        It fits with ``high``, as far as is known, and not with ``low``.
    times : int
        How often the interval is halved.
    """
    for _ in range(times):
        middle = (low + high) / 2
        if fits(middle):
            high = middle
        else:
            low = middle
    return low, high
