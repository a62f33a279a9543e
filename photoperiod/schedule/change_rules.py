"""What changes must not say of each other: two at once, or what can't be meant."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from photoperiod.diagnostics.model import Path, Related
from photoperiod.schedule.change_reader import DayPlans, has_day
from photoperiod.schedule.changes import Acclimation, Change, MovedHours, OtherDay, PartOut
from photoperiod.schedule.channels import report_off_grid
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel
from photoperiod.text import and_list, counted, number_text


def check_changes(
    changes: Sequence[Change],
    channels: Mapping[str, Channel],
    day_plans: DayPlans,
    step_s: int,
    findings: Findings,
) -> None:
    """Report changes that contradict each other, that do nothing, and day plans that nothing uses.

    Parameters
    ----------
    changes : sequence of Change
        In the order of the file.
    channels, day_plans : mapping
        All of the schedule, by id.
    step_s : int
        Rows of the controller stand on this grid. [s]
    findings : Findings
        Gets what is found.
    """
    for index, change in enumerate(changes):
        _check_one(index, change, channels, day_plans, findings)
        if isinstance(change, MovedHours):
            _check_moves_on_grid(index, change, step_s, findings)
    for (first, a), (second, b) in combinations(enumerate(changes), 2):
        why = _contradiction(a, b)
        if why:
            findings.add(
                "PHO360",
                ("changes", second),
                why,
                "change the dates or the channels of one of the two, or remove it",
                related=(Related(message="the other change", path=("changes", first)),),
            )
    for id, plan in day_plans.items():
        for name, planned in plan.items():
            channel = replace(channels[name], day=planned.day, moonlight=planned.moonlight)
            report_off_grid(channel, ("day_plans", id, name), step_s, findings)
    used = {change.day_plan for change in changes if isinstance(change, OtherDay)}
    for id in day_plans:
        if id not in used:
            findings.add(
                "PHO318",
                ("day_plans", id),
                f"no change uses day plan '{id}'",
                f"write `{{kind: other-day, from_date: 2027-05-01, day_plan: {id}}}` under `changes`",
                on_key=True,
            )


def _check_one(
    index: int,
    change: Change,
    channels: Mapping[str, Channel],
    day_plans: DayPlans,
    findings: Findings,
) -> None:
    path: Path = ("changes", index)
    if isinstance(change, Acclimation):
        if not change.channels:
            where = and_list([f"'{zone}'" for zone in change.zones]) or "a zone"
            findings.add(
                "PHO361",
                path,
                f"the acclimation changes nothing: no channel with a day lights {where}",
                "name other zones, or the channels themselves",
            )
        for id in change.channels:
            if not has_day(channels[id], day_plans):
                findings.add(
                    "PHO361",
                    path,
                    f"the acclimation changes nothing of channel '{id}': it has moonlight only, which"
                    " stays as it is",
                    "leave the channel out, or write its light as a `day`",
                )
    if isinstance(change, MovedHours) and not change.total_s:
        findings.add(
            "PHO361",
            (*path, "minutes"),
            "the day moves by 0 minutes",
            "write by how much it moves altogether, below 0 to earlier hours",
        )
    if isinstance(change, PartOut):
        _check_part(path, change, channels, findings)


def _check_moves_on_grid(index: int, change: MovedHours, step_s: int, findings: Findings) -> None:
    """Report moves to times at which the controller can have no row."""
    by_s = change.per_day_s * change.every_days
    if by_s % step_s or change.total_s % step_s:
        findings.add(
            "PHO323",
            ("changes", index, "minutes_per_day"),
            f"the day moves by {number_text(by_s / 60)} min at a time, {number_text(change.total_s / 60)} min"
            f" in all, off the controller's grid of {number_text(step_s / 60)} min",
            on_key=True,
        )


def _check_part(
    path: Path, change: PartOut, channels: Mapping[str, Channel], findings: Findings
) -> None:
    if not change.channel:
        findings.add(
            "PHO361",
            (*path, "tube"),
            f"tube '{change.tube}' burns on no channel, so nothing is lost with it",
            "list it under `tubes` of its channel",
        )
    elif change.ballasts > channels[change.channel].ballast_count:
        count = channels[change.channel].ballast_count
        findings.add(
            "PHO362",
            (*path, "ballasts"),
            f"{change.ballasts} ballasts are out, but channel '{change.channel}' has {count}",
            "write how many are out, or correct `ballast_count` of the channel",
        )


def _contradiction(a: Change, b: Change) -> str:
    """Return in words how two changes contradict each other; empty if they do not."""
    shared = [id for id in a.channels if id in b.channels]
    if not shared:
        return ""
    names = and_list([f"'{id}'" for id in shared])
    if a.kind is b.kind:
        date = _both_on(a, b)
        if date is None:
            return ""
        what = {
            "acclimation": "two acclimations scale",
            "dark-days": "two changes darken",
            "moved-hours": "two changes move the hours of",
            "other-day": "two day plans are given to",
            "part-out": "the same part is out twice on",
        }[a.kind]
        return f"{what} {'channel' if len(shared) == 1 else 'channels'} {names} on {date}"
    for ramp, other in ((a, b), (b, a)):
        if isinstance(ramp, Acclimation) and isinstance(other, OtherDay):
            for date in _turns(other):
                if ramp.first < date <= ramp.last:
                    return (
                        f"the day plan of {names} changes on {date}, in the middle of an acclimation from"
                        f" {ramp.first} to {ramp.last}: its dose could jump or fall there"
                    )
    return ""


def _turns(change: OtherDay) -> Iterator[dt.date]:
    """Yield the dates on which a day plan begins to hold, and on which it no longer does."""
    yield change.first
    if change.last is not None and change.last < dt.date.max:
        yield change.last + dt.timedelta(days=1)


def _both_on(a: Change, b: Change) -> dt.date | None:
    """Return the first date on which two changes of a kind would both say what is; None if none."""
    date = max(a.first, b.first)
    if isinstance(a, OtherDay) and isinstance(b, OtherDay):
        # The one that began last holds; where both end, one must lie within the other.
        early, late = sorted((a, b), key=lambda each: each.first)
        if early.first == late.first:
            return date
        if early.last is None or late.first > early.last:
            return None
        return date if late.last is None or late.last > early.last else None
    if isinstance(a, PartOut) and isinstance(b, PartOut) and (a.tube != b.tube or not a.tube):
        return None
    ends = [each.last for each in (a, b) if each.last is not None]
    return date if all(date <= end for end in ends) else None


def words_of(change: Change) -> str:
    """Return what a change does, in words, without its dates."""
    match change:
        case Acclimation():
            return (
                f"acclimation from {number_text(change.from_share * 100)} % of the dose,"
                f" {change.course}, a step every {counted(change.every_days, 'day')}"
            )
        case MovedHours():
            way = "later" if change.total_s > 0 else "earlier"
            speed = number_text(change.per_day_s / 60)
            return f"hours moved by {speed} min a day, to {number_text(abs(change.total_s) / 60)} min {way}"
        case OtherDay():
            return f"day plan '{change.day_plan}'"
        case PartOut():
            what = f"tube '{change.tube}'" if change.tube else counted(change.ballasts, "ballast")
            return f"{what} of '{change.channel}' out"
    return "dark days" + (", moonlight kept" if change.keeps_moonlight else "")
