"""Results that are kept for as long as what they were worked out from is in use."""

from __future__ import annotations

import functools
import weakref
from collections import OrderedDict
from collections.abc import Callable
from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


def kept_while_used(most: int) -> Callable[[Callable[[K], V]], Callable[[K], V]]:
    """Return a decorator that keeps the last results of a function of one thing.

    `functools.lru_cache` keeps the things, too: a program that compiles one schedule after the other would
    hold the tables of many. Here a result goes when its thing is no longer used elsewhere.

    Parameters
    ----------
    most : int
        So many results are kept. Things are told apart by identity, and must allow weak references.
    """

    def keep(function: Callable[[K], V]) -> Callable[[K], V]:
        results: OrderedDict[int, tuple[weakref.ref[K], V]] = OrderedDict()

        @functools.wraps(function)
        def kept_or_new(thing: K) -> V:
            number = id(thing)
            if number in results:
                results.move_to_end(number)
                return results[number][1]
            result = function(thing)
            gone = weakref.ref(thing, lambda _: results.pop(number, None))
            results[number] = (gone, result)
            if len(results) > most:
                results.popitem(last=False)
            return result

        return kept_or_new

    return keep
