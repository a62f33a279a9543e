"""The arrays that every stage calculates with."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, TypeVar

#: Just below the largest block for which glibc learns [bytes].
_LARGEST_KEPT_BYTES = 31 * 2**20

__all__ = [
    "AnyInts",
    "Bools",
    "Floats",
    "Ints",
    "Singles",
    "SmallInts",
    "Words",
    "best_near",
    "give_back_freed_memory",
    "keep_freed_memory",
    "np",
    "runs_of_true",
    "stretch_of_true",
    "where_true",
]

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    #: Quantities: light, volts, times with fractions of a second.
    Floats = NDArray[np.float64]

    #: The same at half the memory, where many days are compared.
    Singles = NDArray[np.float32]

    #: Counts, converter codes, whole seconds, indices.
    Ints = NDArray[np.int64]

    #: The same at half the memory, where millions are held: no product of them may pass 2^31.
    SmallInts = NDArray[np.int32]

    #: Either of them.
    AnyInts = Ints | SmallInts

    #: Either of the quantities.
    AnyFloats = TypeVar("AnyFloats", Floats, Singles)

    #: Answers for each sample or second.
    Bools = NDArray[np.bool_]

    #: Sets of up to 64 members, one bit each.
    Words = NDArray[np.uint64]
else:

    class _LateNumpy:
        """Stands for numpy and imports it at the first use.

        Numpy takes longer to import than a schedule takes to read. The modules that a schedule is
        built of get numpy from here, so that a schedule with a fault is answered without it.
        """

        def __getattr__(self, name: str) -> Any:
            import numpy

            value = getattr(numpy, name)
            setattr(self, name, value)  # the next use finds it without coming here
            return value

    np = _LateNumpy()

    # Only annotations use these names, and nothing evaluates annotations.
    AnyInts = Bools = Floats = Ints = Singles = SmallInts = Words = object


def keep_freed_memory() -> None:
    """Let the C library keep memory that is freed for the arrays of the days to come.

    Of glibc, see M_MMAP_THRESHOLD in mallopt(3): once a block of some size is freed, blocks up to that size
    are taken from memory that was freed before. Else the arrays of each day come from the system, which
    clears all their pages: a twentieth of the time of a year, and a sixth without the compiled kernel. A day
    alone has a quarter fewer such pages with it. Elsewhere it does nothing.
    """
    np.empty(_LARGEST_KEPT_BYTES, dtype=np.uint8)  # freed at once; none of its pages is touched


def give_back_freed_memory() -> None:
    """Give memory that is free to the system, where `keep_freed_memory` let it be kept.

    By malloc_trim(3) of glibc. Elsewhere it does nothing.
    """
    import ctypes

    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(ctypes.c_size_t(0))


def runs_of_true(mask: Bools, *, repeats: bool) -> list[tuple[int, int]]:
    """Return where runs of True begin and end: the first index in, the first index after.

    Parameters
    ----------
    mask : ndarray, shape (size,)
        An answer for each sample, for example whether a lamp is lit.
    repeats : bool
        True if the last sample is followed by the first one, as on a day like the day before and
        after. A run over that seam is one run then: it begins before the seam and ends at ``size``
        plus its samples after the seam.

    Returns
    -------
    list of (int, int)
        Rising. A mask without any False is one run from 0 to ``size``.
    """
    padded = np.concatenate(([False], mask, [False]))
    changes = np.flatnonzero(padded[1:] != padded[:-1]).tolist()
    runs = list(zip(changes[::2], changes[1::2], strict=True))
    if repeats and len(runs) > 1 and runs[0][0] == 0 and runs[-1][1] == mask.size:
        runs = [*runs[1:-1], (runs[-1][0], mask.size + runs[0][1])]
    return runs


def stretch_of_true(mask: Bools) -> slice:
    """Return where all samples lie at which a mask is True: from the first of them to the last.

    Empty without any; everywhere in an array that is not flat.
    """
    if mask.ndim != 1:
        return slice(None)
    answers = mask.tobytes()  # its search is faster than that of numpy, which is slow backward
    return slice(max(answers.find(True), 0), answers.rfind(True) + 1)


def best_near(around: AnyFloats, reach: int, pick: np.ufunc) -> AnyFloats:
    """Return the least or the most within so many values on either side of each.

    Parameters
    ----------
    around : ndarray, shape (size + 2 * reach,)
        The values, with so many before the first and after the last.
    reach : int
        How many values are near on either side.
    pick : ufunc
        `numpy.minimum` or `numpy.maximum`.

    Returns
    -------
    ndarray, shape (size,)
    """
    length, window = 2 * reach + 1, 1
    while 2 * window <= length:  # windows twice as long each time
        around = pick(around[:-window], around[window:])
        window *= 2
    rest = length - window
    return pick(around[:-rest], around[rest:]) if rest else around


def where_true(mask: Bools) -> slice | Bools:
    """Return what picks the samples at which a mask is True: a slice where they lie side by side.

    A slice of an array is no copy, and times that are asked for mostly rise.

    Parameters
    ----------
    mask : ndarray, any shape
        An answer for each sample.
    """
    if mask.ndim != 1:
        return mask
    count = int(np.count_nonzero(mask))
    first = int(mask.argmax()) if count else 0
    return slice(first, first + count) if mask[first : first + count].all() else mask
