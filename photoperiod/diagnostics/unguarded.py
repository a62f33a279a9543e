"""What no limit stands for: a report names it, so that its silence is not taken for safety."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class ZoneLimit(StrEnum):
    """A limit that a zone can have, by its key in the schedule."""

    PPFD_MAX = "ppfd_max"
    DLI = "dli"
    RISE_PER_MINUTE = "ppfd_rise_per_minute_max"
    DARK_HOURS = "dark_hours_min"
    PEAK_RISE = "peak_rise_percent_max"

    @property
    def words(self) -> str:
        """What it limits, in words."""
        return _WORDS[self]


_WORDS = {
    ZoneLimit.PPFD_MAX: "most light",
    ZoneLimit.DLI: "daily dose",
    ZoneLimit.RISE_PER_MINUTE: "rise within a minute",
    ZoneLimit.DARK_HOURS: "darkness",
    ZoneLimit.PEAK_RISE: "rise from day to day",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Unguarded:
    """What is not guarded, where, and why.

    Parameters
    ----------
    limits : tuple of ZoneLimit
        The limits that are not given, or that can't be shown to be kept.
    zones : tuple of str
        The zones without them, by id; empty if the schedule has no zone at all.
    because : str
        Why, in words.
    """

    limits: tuple[ZoneLimit, ...]
    zones: tuple[str, ...]
    because: str

    @property
    def text(self) -> str:
        """The same in words."""
        what = ", ".join(limit.words for limit in self.limits)
        if not self.zones:
            return f"{what} ({self.because})"
        names = ", ".join(f"'{id}'" for id in self.zones)
        return f"{what} in {'zone' if len(self.zones) == 1 else 'zones'} {names} ({self.because})"

    def data(self) -> dict[str, object]:
        """Return it as plain data, as ``schemas/diagnostics.schema.json`` describes it."""
        return {
            "limits": [str(limit) for limit in self.limits],
            "zones": list(self.zones),
            "because": self.because,
        }


def unguarded_line(unguarded: Sequence[Unguarded]) -> str:
    """Return what is not guarded as one line of text; empty if all is."""
    return f"not guarded: {'; '.join(each.text for each in unguarded)}" if unguarded else ""
