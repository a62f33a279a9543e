"""Which days share a table: the longest runs that keep errors, or the best runs for a number of tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple, Protocol, TypeVar

from photoperiod.program.day_samples import DaySamples
from photoperiod.program.season_days import ComparedDays, Season, SeasonDays

#: How often the interval is halved that holds the least error of a number of tables.
HALVINGS = 16


class EndsWith(Protocol):
    """Days in a row."""

    @property
    def last(self) -> int:
        """The last of them."""
        ...


Run = TypeVar("Run", bound=EndsWith)


class Begin(NamedTuple):
    """Where a season begins: all that it hangs on beside the days and the errors asked for.

    Parameters
    ----------
    first : int
        Its first day.
    short : int
        By how many days the season before ended earlier than bounds would allow.
    """

    first: int
    short: int


#: The seasons that some begins lead to, and where the next ones begin.
Ahead = Mapping[Begin, tuple[Season, Begin]]


def seasons(
    span: SeasonDays,
    *,
    light_error: float,
    dose_error: float,
    ahead: Ahead | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Season]:
    """Return runs that keep both errors, none of which could be a day longer.

    No table that is fitted to a run and the day after it keeps the errors on all of them. A table that
    keeps them on a run keeps them on each part of it: so the longest run first, of those that some table
    keeps, leaves the fewest. Tables are fitted here to runs that begin with the day at hand, and a longer
    run beyond one that is not kept is not looked for; what that may cost is the distance from
    `fewest_possible`. A day whose own table misses the errors stands alone, with the errors that it has.

    Parameters
    ----------
    span : SeasonDays
        The days.
    light_error, dose_error : float
        The most that any table may be off on any of its days. [share]
    ahead : mapping of Begin or None
        Seasons of these days that are known.
    progress : callable or None
        Told how many days of how many are done.
    """
    found: list[Season] = []
    begin, known = Begin(0, 0), ahead or {}
    while begin.first < span.days:
        if begin in known:
            season, begin = known[begin]
        else:
            season, begin = season_from(span, begin, light_error=light_error, dose_error=dose_error)
        found.append(season)
        if progress is not None:
            progress(begin.first, span.days)
    return found


def season_from(
    span: SeasonDays, begin: Begin, *, light_error: float, dose_error: float
) -> tuple[Season, Begin]:
    """Return the season that begins somewhere, and where the next one begins; parameters as for `seasons`."""
    longest = span.reachable_run(begin.first, light_error, dose_error)
    season = _season(span, begin.first, longest, longest - begin.short, (light_error, dose_error))
    # As much as the fits took of this run, they will take of the next.
    return season, Begin(season.last + 1, longest - season.last)


def _season(
    span: SeasonDays, first: int, longest: int, guess: int, most: tuple[float, float]
) -> Season:
    """Return the longest run that begins with a day and keeps the errors of light and dose, or that day.

    A run that is found is looked at in every second of its days once; if one of them misses the errors
    after all, its table is refused and the search goes on.
    """
    refused: set[int] = set()

    def attempt(last: int) -> Season | None:
        return None if last in refused else span.attempt(first, last, longest, *most)

    while (found := longest_run(attempt, first, longest, guess)) is not None:
        found = replace(found, errors=span.errors(found.fits, first, found.last))
        if found.worst.keeps(*most):
            return found
        refused.add(found.fitted_last)
        guess = found.fitted_last - 1
    return span.season(first, first)


def longest_run(
    attempt: Callable[[int], Run | None], first: int, longest: int, guess: int
) -> Run | None:
    """Return a run that begins with a day and could not be a day longer; None if no day keeps errors.

    From a guess the end of the run leaps up or down, twice as far each time, until the longest run lies
    between an end that is kept and one that is not; then that gap is halved.

    Parameters
    ----------
    attempt : callable
        Returns a run that begins with ``first`` and ends with a day or later, None if there is none.
    first : int
        The day with which it begins.
    longest : int
        No run ends later.
    guess : int
        The end that is tried first.
    """
    best: Run | None = None
    good, bad, leap = first - 1, longest + 1, 1
    last = min(max(guess, first), longest)
    while True:
        found = attempt(last)
        if found is None:
            bad = last
        else:
            best, good = found, found.last
            if good >= bad:  # the table of a shorter run went beyond an end that was refused
                bad, leap = longest + 1, 1
        if bad == good + 1:
            return best
        if bad > longest:
            last = min(good + leap, longest)
        elif best is None:
            last = max(bad - leap, first)
        else:
            last = (good + bad) // 2
        leap *= 2


def runs_of_number(span: ComparedDays, number: int) -> list[tuple[int, int]]:
    """Return at most so many runs, or one for each break, with the least bound on errors.

    The bound is the error, of light and of dose alike, that every table of a run has. It is as small
    as that number of runs allows. No table is fitted: an error that comes from too few rows would be
    the same for any number of runs.
    """
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if fewest_possible(span, middle, middle) > number:
            low = middle
        else:
            high = middle
    runs, first = [], 0
    while first < span.days:
        runs.append((first, span.reachable_run(first, high, high)))
        first = runs[-1][1] + 1
    return runs


def fewest_possible(span: ComparedDays, light_error: float, dose_error: float) -> int:
    """Return a number of tables that no choice of runs that keeps the errors can go below."""
    count, first = 0, 0
    while first < span.days:
        first = span.reachable_run(first, light_error, dose_error) + 1
        count += 1
    return count


def changes_fast(
    samples: DaySamples, light_error: float, dose_error: float, tolerance_s: int
) -> bool:
    """Return whether a channel needs many tables, whatever they are: one for three days or more.

    Parameters
    ----------
    samples : DaySamples or other rows of shape (1440,), one a day
        Light wanted at whole minutes. [fraction of full]
    light_error, dose_error : float
        The errors that a table may have. [share]
    tolerance_s : int
        Light may come so much earlier or later. [s]
    """
    alone = ComparedDays({"": samples}, tolerance_s)
    return 3 * fewest_possible(alone, light_error, dose_error) > max(alone.days, 3)
