"""From the changes and day plans of a file to values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TypeVar

from photoperiod.schedule.changes import (
    EVERY_DAYS_BY_HAND,
    Acclimation,
    BallastThen,
    Change,
    ChangeKind,
    Course,
    DarkDays,
    MovedHours,
    OtherDay,
    PartOut,
    PlannedDay,
)
from photoperiod.schedule.channels import read_plans
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import FileFindings
from photoperiod.schedule.model import Channel, LoadedBy
from photoperiod.schedule.tubes import moment
from photoperiod.units import SECONDS_PER_MINUTE

T = TypeVar("T")

DayPlans = Mapping[str, Mapping[str, PlannedDay]]


def build_day_plans(top: Cursor, findings: FileFindings) -> DayPlans:
    """Return the day plans by id, or raise AlreadyReported."""
    plans: dict[str, dict[str, PlannedDay]] = {}
    is_faulty = False
    for id, plan in top.child_or_empty("day_plans").items():
        plans[id] = {}
        for channel, cursor in plan.items():
            if not findings.knows(channel, "channels", cursor.path, on_key=True):
                is_faulty = True
                continue
            day, moonlight = read_plans(cursor, findings)
            plans[id][channel] = PlannedDay(day=day, moonlight=moonlight)
    if is_faulty:
        raise AlreadyReported
    return plans


def build_changes(
    top: Cursor,
    channels: Mapping[str, Channel],
    day_plans: DayPlans,
    loaded_by: LoadedBy,
    findings: FileFindings,
) -> tuple[Change, ...]:
    """Return the changes in the order of the file, or raise AlreadyReported.

    ``channels`` are all of the schedule: whom a change means hangs on what they light.
    """
    found: list[Change] = []
    is_faulty = False
    for cursor in top.list("changes"):
        try:
            found.append(_Reader(cursor, channels, day_plans, loaded_by, findings).change())
        except AlreadyReported:
            is_faulty = True
    if is_faulty:
        raise AlreadyReported
    return tuple(found)


class _Reader:
    """Reads one change."""

    def __init__(
        self,
        cursor: Cursor,
        channels: Mapping[str, Channel],
        day_plans: DayPlans,
        loaded_by: LoadedBy,
        findings: FileFindings,
    ) -> None:
        self.cursor, self.channels, self.day_plans = cursor, channels, day_plans
        self.loaded_by, self.findings = loaded_by, findings

    def change(self) -> Change:
        """Return the change, or raise AlreadyReported."""
        cursor = self.cursor
        kind = cursor.kind("kind", ChangeKind)
        first = moment(cursor.text("from_date"), cursor.at("from_date"), self.findings).date()
        match kind:
            case ChangeKind.ACCLIMATION:
                return self._acclimation(first)
            case ChangeKind.DARK_DAYS:
                return DarkDays(
                    first=first,
                    days=cursor.integer("days"),
                    channels=self._channels(),
                    keeps_moonlight=bool(cursor.get("keep_moonlight", False)),
                )
            case ChangeKind.MOVED_HOURS:
                return MovedHours(
                    first=first,
                    per_day_s=round(cursor.number("minutes_per_day") * SECONDS_PER_MINUTE),
                    total_s=round(cursor.number("minutes") * SECONDS_PER_MINUTE),
                    every_days=cursor.integer("every_days", 1),
                    channels=self._channels(),
                )
            case ChangeKind.OTHER_DAY:
                return self._other_day(first)
            case ChangeKind.PART_OUT:
                return self._part_out(first)

    def _acclimation(self, first: dt.date) -> Acclimation:
        cursor = self.cursor
        named = self._named("channels")
        zones = self._named("zones")
        if named and zones:
            self.findings.add(
                "PHO362",
                cursor.at("channels"),
                "an acclimation names both zones and channels",
                "write `zones`, or `channels`: which ones get less is then told once",
            )
            raise AlreadyReported
        usual = EVERY_DAYS_BY_HAND if self.loaded_by is LoadedBy.HAND else 1
        return Acclimation(
            first=first,
            days=cursor.integer("over_days"),
            from_share=cursor.number("from_dose_percent") / 100,
            every_days=cursor.integer("every_days", usual),
            course=cursor.kind("course", Course, Course.LINEAR),
            channels=named or lighting(self.channels, self.day_plans, zones),
            zones=zones,
        )

    def _other_day(self, first: dt.date) -> OtherDay:
        plan = self.cursor.text("day_plan")
        if not self.findings.knows(plan, "day_plans", self.cursor.at("day_plan")):
            raise AlreadyReported
        if plan not in self.day_plans:  # a fault of it has been reported
            raise AlreadyReported
        return OtherDay(
            first=first,
            day_plan=plan,
            channels=tuple(id for id in self.channels if id in self.day_plans[plan]),
            days=self._optional_days(),
        )

    def _part_out(self, first: dt.date) -> PartOut:
        cursor, findings = self.cursor, self.findings
        keys = tuple(key for key in ("tube", "ballast", "channel", "ballasts") if cursor.has(key))
        if keys == ("tube", "ballast"):
            tube = cursor.text("tube")
            if not findings.knows(tube, "tubes", cursor.at("tube")):
                raise AlreadyReported
            home = next(
                (c.id for c in self.channels.values() if tube in {t.id for t in c.tubes}), ""
            )
            return PartOut(
                first=first,
                channel=home,
                tube=tube,
                ballast=cursor.kind("ballast", BallastThen),
                days=self._optional_days(),
            )
        if keys == ("channel", "ballasts"):
            channel = cursor.text("channel")
            if not findings.knows(channel, "channels", cursor.at("channel")):
                raise AlreadyReported
            return PartOut(
                first=first,
                channel=channel,
                ballasts=cursor.integer("ballasts"),
                days=self._optional_days(),
            )
        told = "neither" if not keys else " and ".join(f"`{key}`" for key in keys)
        findings.add(
            "PHO362",
            cursor.path,
            f"a part that is out is told by `tube` and `ballast`, or by `channel` and `ballasts`; here"
            f" stands {told}",
            "a tube: `{kind: part-out, from_date: 2027-05-01, tube: blue-a, ballast: stops}`; a ballast:"
            " `{kind: part-out, from_date: 2027-05-01, channel: blue, ballasts: 1}`",
        )
        raise AlreadyReported

    def _optional_days(self) -> int | None:
        return self.cursor.integer("days") if self.cursor.has("days") else None

    def _channels(self) -> tuple[str, ...]:
        """Return the channels that a change names, or all."""
        return self._named("channels") or tuple(self.channels)

    def _named(self, key: str) -> tuple[str, ...]:
        """Return ids of a list, or raise AlreadyReported if one of them is unknown."""
        if not self.cursor.has(key):
            return ()
        names = list(self.cursor.names(key))
        known = [self.findings.knows(name, key, path) for name, path in names]
        if not all(known) or len(names) < len(self.cursor.data[key]):
            raise AlreadyReported
        return tuple(name for name, _ in names)


def lighting(
    channels: Mapping[str, Channel], day_plans: DayPlans, zones: tuple[str, ...]
) -> tuple[str, ...]:
    """Return the channels with a day that light some of the zones; with no zones, all with a day."""
    return tuple(
        id
        for id, channel in channels.items()
        if has_day(channel, day_plans)
        and (not zones or any(channel.full_ppfd.get(zone) for zone in zones))
    )


def has_day(channel: Channel, day_plans: DayPlans) -> bool:
    """Return whether a channel has a day, of its own or by some day plan, and not moonlight alone."""
    return channel.day is not None or any(
        plan[channel.id].day is not None for plan in day_plans.values() if channel.id in plan
    )
