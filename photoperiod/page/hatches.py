"""Which hatch stands for which channel: shape tells channels apart, never colour alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

#: The hatches of the style sheet, ``hatch-0`` and so on.
HATCHES = 8


def hatches_of(channels: Iterable[str]) -> Mapping[str, int]:
    """Return the hatch of each channel, in the order of the file.

    Where there are more channels than hatches, all from the eighth on share the last one: their names stand
    beside them.
    """
    return {id: min(number, HATCHES - 1) for number, id in enumerate(channels)}
