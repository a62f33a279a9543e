"""Which hatch stands for which channel: shape tells channels apart, never colour alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from photoperiod.page.figure import cut
from photoperiod.program.channel_day import ChannelDay

#: The hatches of the style sheet, ``hatch-0`` and so on.
HATCHES = 8


def hatches_of(channels: Iterable[str]) -> Mapping[str, int]:
    """Return the hatch of each channel, in the order of the file.

    Where there are more channels than hatches, all from the eighth on share the last one: their names stand
    beside them.
    """
    return {id: min(number, HATCHES - 1) for number, id in enumerate(channels)}


def by_hatch(
    channels: Iterable[ChannelDay], hatches: Mapping[str, int], most_letters: int
) -> list[tuple[int, str, Sequence[ChannelDay]]]:
    """Return channels in a row that share a hatch together: the hatch, a name, and the channels.

    The name is that of the one channel, cut to ``most_letters`` columns, or how many they are.
    """
    found: list[tuple[int, str, Sequence[ChannelDay]]] = []
    for hatch, group in groupby(channels, key=lambda c: hatches[c.channel.id]):
        members = list(group)
        name = cut(members[0].channel.label, most_letters)
        found.append((hatch, name if len(members) == 1 else f"{len(members)} others", members))
    return found
