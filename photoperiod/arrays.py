"""The arrays that every stage calculates with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Quantities: light, volts, times with fractions of a second.
Floats = NDArray[np.float64]

#: The same at half the memory, where many days are compared.
Singles = NDArray[np.float32]

#: Counts, converter codes, whole seconds, indices.
Ints = NDArray[np.int64]

#: Answers for each sample or second.
Bools = NDArray[np.bool_]

#: Sets of up to 64 members, one bit each.
Words = NDArray[np.uint64]
