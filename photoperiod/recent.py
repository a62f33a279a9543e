"""Values that follow from an object and are too big, or too slow, to be kept or made each time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Recent(Generic[T]):
    """Values of the objects that were asked for last.

    Parameters
    ----------
    most : int
        So many are kept; others are made again when they are asked for.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[int, tuple[object, T]] = OrderedDict()

    def of(self, owner: object, make: Callable[[], T]) -> T:
        """Return the value of an object, made if it is not kept."""
        key = id(owner)  # the owner is held with its value, so that its id stays its own
        if key in self._kept:
            self._kept.move_to_end(key)
        else:
            self._kept[key] = owner, make()
            if len(self._kept) > self.most:
                self._kept.popitem(last=False)
        return self._kept[key][1]
