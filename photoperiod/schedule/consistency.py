"""Faults of a schedule that was built in Python: names that lead nowhere, and parts that do not fit.

A file can't have most of them, because its values are built from its names. The rules of a day, such as
ramps that overlap, are asked for each day curve and stand in `day_rules`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from itertools import chain
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from photoperiod.diagnostics.codes import HARD_NAMES
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.schedule.ballasts import meet_ballasts
from photoperiod.schedule.change_rules import check_changes
from photoperiod.schedule.changes import OtherDay, PartOut
from photoperiod.schedule.channels import (
    check_channel_tubes,
    check_hold,
    check_unknown_light,
    check_watts,
    check_zones,
    no_light,
    tube_elsewhere,
)
from photoperiod.schedule.converters import check_outputs
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.schedule.move_rules import check_moves
from photoperiod.schedule.place import PLACE_EXAMPLE
from photoperiod.schedule.prices import check_prices, check_tariff
from photoperiod.text import suggestion

#: What the id of a tank looks like, as in a file.
TANK_ID = r"[a-z][a-z0-9-]{0,39}"


def faults_of(schedule: Schedule) -> list[Diagnostic]:
    """Return what is wrong with the parts of a schedule and with the names between them.

    Paths are those that the values would have in a file. Codes are those that the same fault of a file
    has.

    Raises
    ------
    TypeError
        If a value within it is of another type than its field says.
    """
    _check_types(schedule, "")
    findings = Findings()
    _check_ids(schedule, findings)
    for channel in schedule.channels.values():
        _check_channel(channel, schedule, findings)
        check_channel_tubes(channel, findings)
        check_watts(channel, findings)
        check_hold(channel, findings)
    _check_tubes(schedule, findings)
    _check_acceptances(schedule, findings)
    _check_changes(schedule, findings)
    _check_place(schedule, findings)
    check_prices(schedule.costs, schedule.tubes, findings)
    if schedule.costs is not None and schedule.costs.tariff is not None:
        check_tariff(schedule.costs.tariff, ("costs", "tariff"), findings)
    meet_ballasts(schedule.controller, schedule.ballasts, findings)
    check_outputs(schedule.controller, schedule.channels.values(), findings)
    if not findings.has_errors:
        check_zones(list(schedule.channels.values()), schedule.zones, findings)
        check_unknown_light(list(schedule.channels.values()), schedule.zones, findings)
    if not findings.has_errors:
        check_moves(schedule.channels, schedule.zones, schedule.follows_sky, findings)
        step_s = schedule.controller.times.step_s
        check_changes(schedule.changes, schedule.channels, schedule.day_plans, step_s, findings)
    return findings


def _check_types(value: Any, where: str) -> None:
    """Raise TypeError for the first field of a value, or of one within it, that is of another type.

    A text in place of a kind would otherwise pass for any kind that it is not.
    """
    if is_dataclass(value):
        hints = get_type_hints(type(value))
        for field in fields(value):
            inner, at = getattr(value, field.name), f"{where}.{field.name}".lstrip(".")
            if not _is_of(inner, hints[field.name]):
                wanted = _words_of(hints[field.name])
                raise TypeError(f"{at} is {inner!r} ({type(inner).__name__}), not {wanted}")
            _check_types(inner, at)
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            _check_types(inner, f"{where}.{key}")
    elif isinstance(value, tuple):
        for index, inner in enumerate(value):
            _check_types(inner, f"{where}[{index}]")


def _is_of(value: Any, hint: Any) -> bool:
    """Return whether a value is of the type that a field says; whole numbers may stand for others."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return any(_is_of(value, part) for part in parts)
    if origin is not None and issubclass(origin, Mapping):
        return isinstance(value, Mapping) and all(_is_of(each, parts[1]) for each in value.values())
    if origin is tuple:
        if not isinstance(value, tuple):
            return False
        wanted = parts[:1] * len(value) if parts[-1] is Ellipsis else parts
        return len(value) == len(wanted) and all(
            _is_of(each, part) for each, part in zip(value, wanted, strict=True)
        )
    if origin is frozenset:
        return isinstance(value, frozenset) and all(_is_of(each, parts[0]) for each in value)
    if hint in (int, float):
        return isinstance(value, (int, hint)) and not isinstance(value, bool)
    return isinstance(value, hint)


def _words_of(hint: Any) -> str:
    """Return a type as a message names it."""
    if get_origin(hint) in (Union, UnionType):
        return " or ".join(_words_of(part) for part in get_args(hint))
    return "None" if hint is NoneType else getattr(hint, "__name__", str(hint))


def _check_ids(schedule: Schedule, findings: Findings) -> None:
    """Refuse a tank without an id, no channels, and a value under another name than its own."""
    if not re.fullmatch(TANK_ID, schedule.tank):
        findings.add(
            "PHO206",
            ("tank",),
            f"'{schedule.tank}' does not have the right form",
            "an id is small letters, digits and hyphens, and begins with a letter",
        )
    if not schedule.channels:
        findings.add("PHO207", ("channels",), "the schedule has no channel", "give it at least one")
    for key in ("ballasts", "tubes", "zones", "channels"):
        values: Mapping[str, Any] = getattr(schedule, key)
        for id, value in values.items():
            if value.id != id:
                findings.add(
                    "PHO301",
                    (key, id),
                    f"the {key[:-1]} under '{id}' calls itself '{value.id}'",
                    "a value stands under its own id",
                )


def _check_channel(channel: Channel, schedule: Schedule, findings: Findings) -> None:
    """Refuse names that a channel uses and the schedule does not hold, and light that is no number."""
    names: Iterable[tuple[str, str, Path]] = chain(
        [(channel.ballast.id, "ballasts", (*channel.path, "ballast"))],
        (
            (tube.id, "tubes", (*channel.path, "tubes", index))
            for index, tube in enumerate(channel.tubes)
        ),
        ((id, "zones", (*channel.path, "full_ppfd", "zones", id)) for id in channel.full_ppfd),
    )
    for id, key, path in names:
        _check_name(id, key, getattr(schedule, key), path, findings)
    for id, ppfd in channel.full_ppfd.items():
        if not (math.isfinite(ppfd) and ppfd >= 0):
            findings.add(
                "PHO205",
                (*channel.path, "full_ppfd", "zones", id),
                f"{ppfd} is out of range: at least 0 µmol m⁻² s⁻¹",
            )
    for id, spread in channel.ppfd_spread.items():
        path = (*channel.path, "full_ppfd", "zones", id)
        if id not in channel.full_ppfd:
            findings.add(
                "PHO301",
                path,
                f"'ppfd_spread' of channel '{channel.id}' is of zone '{id}', which its 'full_ppfd' lacks",
                suggestion(id, channel.full_ppfd, "zone"),
            )
        for ppfd in (spread.limits, spread.dli_least):
            if not (math.isfinite(ppfd) and ppfd >= 0):
                findings.add("PHO205", path, f"{ppfd} is out of range: at least 0 µmol m⁻² s⁻¹")
    if channel.day is None and channel.moonlight is None:
        no_light(channel.path, findings)


def _check_name(
    id: str, key: str, known: Mapping[str, object], path: Path, findings: Findings
) -> None:
    if id not in known:
        kind = key[:-1].replace("_", " ")
        findings.add("PHO301", path, f"there is no {kind} '{id}'", suggestion(id, known, kind))


def _check_tubes(schedule: Schedule, findings: Findings) -> None:
    """Refuse a tube on two channels."""
    first: dict[str, str] = {}
    for channel in schedule.channels.values():
        for index, tube in enumerate(channel.tubes):
            if first.setdefault(tube.id, channel.id) != channel.id:
                path = (*channel.path, "tubes", index)
                tube_elsewhere(tube.id, first[tube.id], path, findings)


def _check_acceptances(schedule: Schedule, findings: Findings) -> None:
    """Refuse acceptances of what is no hard finding, or of channels and zones that are not there."""
    for index, acceptance in enumerate(schedule.acceptances):
        path: Path = ("accept", index)
        if acceptance.finding not in HARD_NAMES:
            findings.add(
                "PHO204",
                (*path, "finding"),
                f"'{acceptance.finding}' is no hard finding",
                suggestion(acceptance.finding, HARD_NAMES),
            )
        for key in ("channels", "zones"):
            for id in sorted(getattr(acceptance, key)):
                _check_name(id, key, getattr(schedule, key), (*path, key), findings)


def _check_changes(schedule: Schedule, findings: Findings) -> None:
    """Refuse names in changes and day plans that lead nowhere."""
    for id, plan in schedule.day_plans.items():
        for channel in plan:
            _check_name(
                channel, "channels", schedule.channels, ("day_plans", id, channel), findings
            )
    for index, change in enumerate(schedule.changes):
        path: Path = ("changes", index)
        for channel in change.channels:
            if channel or not isinstance(change, PartOut):
                _check_name(channel, "channels", schedule.channels, (*path, "channels"), findings)
        if isinstance(change, OtherDay):
            _check_name(
                change.day_plan, "day_plans", schedule.day_plans, (*path, "day_plan"), findings
            )


def _check_place(schedule: Schedule, findings: Findings) -> None:
    """Refuse a sky or different clocks without a place."""
    if schedule.place is None and (schedule.days_differ or schedule.sky is not None):
        findings.add(
            "PHO329",
            ("place",),
            "the schedule follows the sky, or its clocks differ, but it has no place",
            PLACE_EXAMPLE,
        )
