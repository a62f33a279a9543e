"""Places for tubes in a channel: each holds one tube at a time, one after the other.

What a channel gave when PPFD was measured depends on the tubes that stood in its places on that date.
Where the schedule does not tell which these were, they are taken as worn out: a tube at the loss that is
declared for the hours at which it is replaced. A new one then counts as brighter, never as darker.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from enum import StrEnum
from itertools import pairwise, zip_longest

from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.schedule.tube import Tube


class Measured(StrEnum):
    """What is known about the tube that stood in a place when PPFD was measured."""

    TOLD = (
        "told"  # it and its loss are declared, or it is still there, or nothing is said of any loss
    )
    ASSUMED = "assumed"  # it is taken at its declared loss at replacement
    UNKNOWN = "unknown"  # no loss is declared either


def worn_light(line: Sequence[Tube]) -> float | None:
    """Return the light of a tube of a place as it is replaced, None if that is not declared.

    It is that of the first tube that is told: what stood before is taken to be of the same kind.
    [fraction of the declared light]
    """
    first = line[0]
    if first.depreciation is None or first.replace_after_hours is None:
        return None
    return first.depreciation.light_at(first.replace_after_hours)


def stood_on(line: Sequence[Tube], date: dt.date) -> tuple[Tube, ...]:
    """Return the tubes of a place that stood there at some time of a date.

    On the date of a change these are two. A tube stands until the next is fitted.
    """
    fitted = [tube for tube in line if tube.fitted is None or tube.fitted.date() <= date]
    return tuple(
        tube
        for tube, later in zip_longest(fitted, fitted[1:])
        if later is None or later.fitted is None or later.fitted.date() == date
    )


def left_at(schedule: Schedule) -> dict[str, dt.datetime]:
    """Return when tubes leave their place, by id, of those that do: removed, or followed by another."""
    found = {}
    for channel in schedule.channels.values():
        for line in channel.places:
            for tube, later in zip_longest(line, line[1:]):
                when = tube.removed or (later.fitted if later else None)
                if when is not None:
                    found[tube.id] = when
    return found


def measured(channel: Channel, line: Sequence[Tube]) -> Measured:
    """Return what is known about the tube of a place when PPFD was measured."""
    if channel.measured_on is None:
        if not any(tube.depreciation for tube in line):
            return Measured.TOLD
    elif there := stood_on(line, channel.measured_on):
        is_the_last = line[-1] in there
        return (
            Measured.TOLD if is_the_last or all(t.depreciation for t in there) else Measured.UNKNOWN
        )
    return Measured.UNKNOWN if worn_light(line) is None else Measured.ASSUMED


def lines_by_what_is_known(
    schedule: Schedule, last: dt.date | None
) -> Mapping[Measured, list[tuple[Channel, tuple[Tube, ...]]]]:
    """Return the places of all channels that light a zone, by what is known about the measurement.

    Tubes that are fitted after the last date play no part; None takes all of them.
    """
    found: dict[Measured, list[tuple[Channel, tuple[Tube, ...]]]] = {what: [] for what in Measured}
    for channel in schedule.channels.values():
        for whole in channel.places if channel.full_ppfd else ():
            line = tuple(
                tube
                for tube in whole
                if last is None or tube.fitted is None or tube.fitted.date() <= last
            )
            if line:
                found[measured(channel, line)].append((channel, line))
    return found


def check_places(channel: Channel, findings: Findings) -> None:
    """Refuse two tubes in one place at once, and a place that is left empty."""
    for line in channel.places:
        for tube in line:
            if tube.removed and tube.fitted and tube.removed <= tube.fitted:
                findings.add(
                    "PHO337",
                    (*tube.path, "removed"),
                    f"tube '{tube.id}' was removed before it was fitted",
                    "write both moments as they were",
                )
        for tube, later in pairwise(line):
            if later.fitted is None or later.fitted == tube.fitted:
                findings.add(
                    "PHO337",
                    later.path,
                    f"tubes '{tube.id}' and '{later.id}' are in place '{tube.place}' at one time",
                    "say when the later one was `fitted`, or give it another `place`",
                    on_key=True,
                )
            elif tube.removed and tube.removed > later.fitted:
                findings.add(
                    "PHO337",
                    (*tube.path, "removed"),
                    f"tube '{tube.id}' is removed after tube '{later.id}' was fitted in its place",
                    "write both moments as they were, or give one of them another `place`",
                )
        if line[-1].removed:
            findings.add(
                "PHO338",
                (*line[-1].path, "removed"),
                f"after tube '{line[-1].id}' its place '{line[-1].place}' is empty",
                "name the tube that follows, with the same `place`, or take the place off the channel",
            )
