"""Tubes, zones, channels, acceptances and the place, and what needs more than one of them."""

from __future__ import annotations

import datetime as dt

from photoperiod.curves.curve import Curve, Profile
from photoperiod.diagnostics.model import Path, Related
from photoperiod.drive.depreciation import DECLARED_AT_H, Depreciation, DepreciationKind
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import SkyRule, lower_trains
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import (
    Acceptance,
    Ballast,
    BorrowedSky,
    Channel,
    Controller,
    Place,
    Seasons,
    Tube,
    Zone,
)
from photoperiod.schedule.times import ClockTimes, FollowsSky, clock_seconds
from photoperiod.sky.clock import REFERENCE_UNIX_S, Clock, zone_names
from photoperiod.text import clock_text, close_match, number_text, short

#: The least unbroken night a zone should have [h]. Common practice, no source.
DARK_HOURS_MIN = 8.0

#: An earlier date of a tube is a slip of the pen, and would be reckoned day by day. Our choice.
FIRST_YEAR = 1980

#: A noon by standard time outside these hours points at a slip of the pen [h]. That of Kashgar, on
#: Beijing time, is near 15:00. Our choice.
NOON_FROM_H, NOON_TO_H = 10.0, 15.5

#: What to write where a place is lacking.
_PLACE = "write `place: {latitude: 38.53, longitude: -28.63, time_zone: Atlantic/Azores}`"

#: Names of zones must be so alike to be taken for each other: another town would be another time. Our choice.
ZONE_LIKENESS = 0.85

#: The greatest rise of a zone's peak PPFD over the day before [%]. Our choice, no source.
PEAK_RISE_PERCENT_MAX = 25.0


def lower_place(top: Cursor, complaints: Findings) -> Place:
    """Return the place, or raise AlreadyReported."""
    view = top.child("place")
    zone = view.text("time_zone")
    if zone not in zone_names():
        complaints.add(
            "PHO301",
            view.at("time_zone"),
            f"there is no time zone '{short(zone)}'",
            _near_zone(zone),
        )
    else:
        _check_noon(view, zone, complaints)
    return Place(
        latitude_deg=view.number("latitude"),
        longitude_deg=view.number("longitude"),
        time_zone=zone,
        origin=view.path,
    )


def _check_noon(view: Cursor, zone: str, complaints: Findings) -> None:
    """Warn of a longitude at which noon comes hours off noon by the clock."""
    noon_h = (
        12 + Clock.standard(zone).offset_s(REFERENCE_UNIX_S) / 3600 - view.number("longitude") / 15
    )
    if not NOON_FROM_H <= noon_h % 24 <= NOON_TO_H:
        complaints.add(
            "PHO333",
            view.at("longitude"),
            f"the sun's noon is about {clock_text(round(noon_h % 24 * 60) * 60 % 86_400)} there by the clock"
            f" of {zone}",
            "east is positive and west negative: is the sign right, and the zone?",
        )


def lower_sky(top: Cursor, place: Place | None, complaints: Findings) -> BorrowedSky | None:
    """Return the borrowed sky if there is one, or raise AlreadyReported."""
    if not top.has("sky"):
        return None
    view = top.child("sky")
    if place is None:
        if not top.has("place"):
            complaints.add(
                "PHO329",
                view.path,
                "a borrowed sky needs a place to be brought to",
                _PLACE,
                on_key=True,
            )
        raise AlreadyReported
    return BorrowedSky(
        latitude_deg=view.number("latitude", place.latitude_deg),
        longitude_deg=view.number("longitude", place.longitude_deg),
        noon_s=clock_seconds(view.text("noon_at")) if view.has("noon_at") else None,
        season_share=view.number("seasons_percent", 100.0) / 100,
    )


def lower_seasons(top: Cursor, complaints: Findings) -> Seasons:
    """Return how many tables are asked for, or raise AlreadyReported."""
    view = top.child_or_empty("seasons")
    usual = Seasons()
    for key in ("light_error_percent", "dose_error_percent"):
        if view.has("tables") and view.has(key):
            complaints.add(
                "PHO330",
                view.at(key),
                f"'{key}' and 'tables' exclude each other",
                "say how far tables may be off, or how many there are",
                on_key=True,
            )
            raise AlreadyReported
    return Seasons(
        light_error=view.number("light_error_percent", usual.light_error * 100) / 100,
        time_error_s=round(view.number("time_error_minutes", usual.time_error_s / 60) * 60),
        dose_error=view.number("dose_error_percent", usual.dose_error * 100) / 100,
        tables=view.integer("tables") if view.has("tables") else None,
    )


def lower_spread(top: Cursor, complaints: Findings) -> float | None:
    """Return by how many minutes a day the plan follows its clock, None for at once."""
    key = "clock_change_minutes_per_day"
    if not top.has(key):
        return None
    if top.text("plan_clock", "standard") != "civil":
        complaints.add(
            "PHO331",
            top.at(key),
            f"'{key}' means nothing under a plan clock that never changes",
            "write `plan_clock: civil`, or remove it",
            on_key=True,
        )
        raise AlreadyReported
    return top.number(key)


def check_clocks(top: Cursor, complaints: Findings) -> None:
    """Complain of clocks that can't be turned into each other for want of a time zone."""
    plan, controller = top.text("plan_clock", "standard"), top.child("controller").text("clock")
    if (plan != controller or top.has("clock_change_minutes_per_day")) and not top.has("place"):
        complaints.add(
            "PHO329",
            top.at("controller", "clock"),
            f"a {controller} controller clock under a {plan} plan clock needs a time zone",
            _PLACE,
        )


def _moonlight(view: Cursor) -> float | None:
    """Return the most light of a channel's moonlight. [fraction of full]"""
    if not view.has("moonlight"):
        return None
    moonlight = view.child("moonlight")
    key = "light_percent" if moonlight.text("kind") == "steady" else "full_light_percent"
    return moonlight.number(key) / 100


def _near_zone(name: str) -> str:
    """Return what was probably meant by a zone: a slip of the pen, not the nearest of other names."""
    guess = close_match(name, sorted(zone_names()), cutoff=ZONE_LIKENESS)
    if guess is not None:
        return f"did you mean '{guess}'?"
    return (
        "write the zone of a large town near by that keeps the same time, such as Atlantic/Azores"
    )


def _check_bounds(data: object, path: Path, complaints: Findings) -> None:
    """Complain of times whose earliest is after their latest."""
    if isinstance(data, dict):
        bad = complaints.top.bad
        low, high = (
            None if (*path, key) in bad else data.get(key) for key in ("not_before", "not_after")
        )
        if "at" in data and low and high and clock_seconds(low) > clock_seconds(high):
            complaints.add(
                "PHO319",
                (*path, "not_before"),
                f"not before {low} and not after {high}: no time is both",
                "swap them",
            )
        for key, inner in data.items():
            _check_bounds(inner, (*path, key), complaints)
    elif isinstance(data, list):
        for index, inner in enumerate(data):
            _check_bounds(inner, (*path, index), complaints)


def _check_place(view: Cursor, complaints: Findings) -> None:
    """Complain of a channel that follows the sky of nowhere."""
    if not complaints.top.has("place"):
        complaints.add(
            "PHO329",
            view.path,
            f"channel '{view.path[-1]}' follows the sky, but the schedule has no place",
            _PLACE,
            on_key=True,
        )
        raise AlreadyReported


def lower_tube(id: str, view: Cursor, complaints: Findings) -> Tube:
    """Return a tube, or raise AlreadyReported."""
    fitted = None
    if view.has("fitted"):
        fitted = _moment(view.text("fitted"), view.at("fitted"), complaints)
    _check_life(view, complaints)
    return Tube(
        id=id,
        label=view.text("label", id),
        watts=view.number("watts"),
        fitted=fitted,
        lit_hours=view.number("lit_hours"),
        burn_in_full_hours=view.number("burn_in_full_hours"),
        replace_after_hours=view.optional_number("replace_after_hours"),
        depreciation=_depreciation(view, complaints),
        light_share=view.number("light_share", view.number("watts")),
        origin=view.path,
    )


def _check_life(view: Cursor, complaints: Findings) -> None:
    """Complain of a burn-in that would outlive the tube."""
    life = view.optional_number("replace_after_hours")
    left = None if life is None else life - view.number("lit_hours")
    if left is not None and view.number("burn_in_full_hours") > max(left, 0.0):
        complaints.add(
            "PHO327",
            view.at("burn_in_full_hours"),
            f"a burn-in of {number_text(view.number('burn_in_full_hours'))} h does not fit into the"
            f" {number_text(max(left, 0.0))} h before the tube is to be replaced",
            "some twelve hours at full are usual; a tube with hours owes none",
        )


def _depreciation(view: Cursor, complaints: Findings) -> Depreciation | None:
    if not view.has("depreciation"):
        return None
    given = view.child("depreciation")
    if given.text("kind") == DepreciationKind.EXPONENTIAL:
        loss = given.number("loss_percent_per_1000_h") / 100
        return Depreciation(kind=DepreciationKind.EXPONENTIAL, loss_per_1000_h=loss)
    hours, light = [], []
    for point in given.list("points"):
        hours.append(point.number("lit_hours"))
        light.append(point.number("light_percent") / 100)
        if len(hours) > 1 and hours[-1] <= hours[-2]:
            complaints.add(
                "PHO328",
                point.at("lit_hours"),
                f"{number_text(hours[-1])} h does not come after {number_text(hours[-2])} h",
                "list the points by rising hours",
            )
            raise AlreadyReported
        if len(hours) > 1 and light[-1] > light[-2] and hours[-1] > DECLARED_AT_H:
            complaints.add(
                "PHO328",
                point.at("light_percent"),
                f"the light rises from {number_text(light[-2] * 100)} to"
                f" {number_text(light[-1] * 100)} % with the hours",
                "a tube gives less and less light after its first hundred hours",
            )
            raise AlreadyReported
    return Depreciation(kind=DepreciationKind.POINTS, hours=tuple(hours), light=tuple(light))


def _moment(text: str, path: Path, complaints: Findings) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        complaints.add("PHO306", path, f"there is no such date as {text}")
        raise AlreadyReported from None
    if moment.year < FIRST_YEAR:
        complaints.add(
            "PHO306",
            path,
            f"{text} is before any tube that still burns",
            f"dates begin in {FIRST_YEAR}",
        )
        raise AlreadyReported
    return moment


def lower_zone(id: str, view: Cursor, complaints: Findings) -> Zone:
    """Return a zone, or raise AlreadyReported."""
    band = view.get("dli")
    if band is not None and band[0] > band[1]:
        complaints.add(
            "PHO319",
            view.at("dli"),
            f"{band[0]} is above {band[1]}",
            f"write [{band[1]}, {band[0]}]",
        )
        raise AlreadyReported
    if not view.has("dark_hours_min"):
        complaints.add(
            "PHO324",
            view.path,
            f"'dark_hours_min' of zone '{id}' is taken as {number_text(DARK_HOURS_MIN)} h",
            on_key=True,
        )
    return Zone(
        id=id,
        label=view.text("label", id),
        dli_band=None if band is None else (float(band[0]), float(band[1])),
        ppfd_max=view.optional_number("ppfd_max"),
        ek_ppfd=view.optional_number("ek_ppfd"),
        ppfd_rise_per_minute_max=view.optional_number("ppfd_rise_per_minute_max"),
        dark_hours_min=view.number("dark_hours_min", DARK_HOURS_MIN),
        peak_rise_max=view.number("peak_rise_percent_max", PEAK_RISE_PERCENT_MAX) / 100,
        origin=view.path,
    )


def lower_channel(
    id: str,
    view: Cursor,
    ballasts: dict[str, Ballast | None],
    tubes: dict[str, Tube | None],
    complaints: Findings,
) -> Channel:
    """Return a channel, or raise AlreadyReported."""
    known = True
    ballast_id = view.text("ballast")
    known &= complaints.knows(ballast_id, "ballasts", view.at("ballast"))
    mine: list[Tube | None] = []
    for name, path in view.names("tubes"):
        known &= complaints.knows(name, "tubes", path)
        mine.append(tubes.get(name))
    full_ppfd: dict[str, float] = {}
    measured_on: dt.date | None = None
    if view.has("full_ppfd"):
        measured = view.child("full_ppfd")
        if measured.has("measured_on"):
            text = measured.text("measured_on")
            measured_on = _moment(text, measured.at("measured_on"), complaints).date()
        by_zone = measured.child("zones")
        for name in by_zone.data:
            known &= complaints.knows(name, "zones", by_zone.at(name), on_key=True)
            full_ppfd[name] = by_zone.number(name)
    curve, rule = None, None
    try:
        trains = lower_trains(view, complaints, ClockTimes())
        curve = Curve(tuple(train for train in trains if isinstance(train, Profile)))
    except FollowsSky:
        rule = SkyRule(view, complaints.top)
        _check_bounds(view.data, view.path, complaints)
        _check_place(view, complaints)
    if curve is not None and not curve.parts:
        complaints.add(
            "PHO316",
            view.path,
            f"channel '{id}' has neither a day nor moonlight",
            "add `day:` or `moonlight:`",
            on_key=True,
        )
        raise AlreadyReported
    ballast = ballasts.get(ballast_id)
    if not known or ballast is None or None in mine:
        raise AlreadyReported
    if full_ppfd and measured_on is None and any(tube and tube.depreciation for tube in mine):
        complaints.add(
            "PHO324",
            view.at("full_ppfd"),
            f"'full_ppfd' of channel '{id}' is taken as measured with tubes of a hundred hours",
            "say when it was measured: `measured_on: 2027-03-20`",
            on_key=True,
        )
    for tube in mine:
        if tube and tube.burn_in_full_hours > 0 and ballast.curve.dark == "never":
            complaints.add(
                "PHO320",
                (*tube.origin, "burn_in_full_hours"),
                f"tube '{tube.id}' is to burn in on channel '{id}', whose ballast is never dark",
                "burn it in elsewhere and enter the hours as `lit_hours`",
            )
    return Channel(
        id=id,
        label=view.text("label", id),
        ballast=ballast,
        ballast_count=view.integer("ballast_count", 1),
        weight=view.number("weight", 1.0),
        tubes=tuple(tube for tube in mine if tube),
        full_ppfd=full_ppfd,
        measured_on=measured_on,
        curve=curve,
        rule=rule,
        moonlight=_moonlight(view),
        safe_light=view.number("safe_light_percent", 0.0) / 100,
        origin=view.path,
    )


def lower_acceptances(top: Cursor, complaints: Findings) -> tuple[Acceptance, ...]:
    """Return what the schedule accepts by name."""
    made = []
    try:
        for view in top.list("accept"):
            for key in ("channels", "zones"):
                for name, path in view.names(key):
                    complaints.knows(name, key, path)
            made.append(
                Acceptance(
                    finding=view.text("finding"),
                    channels=frozenset(name for name, _ in view.names("channels")),
                    zones=frozenset(name for name, _ in view.names("zones")),
                    because=view.text("because"),
                    origin=view.path,
                )
            )
    except AlreadyReported:
        return ()
    return tuple(made)


def check_uses(complaints: Findings) -> None:
    """Complain of tubes in two places, and of tubes and ballasts that nothing uses."""
    seen: dict[str, Path] = {}
    ballasts_used: set[str] = set()
    channels = complaints.top.data.get("channels")
    for id, channel in channels.items() if isinstance(channels, dict) else ():
        if not isinstance(channel, dict):
            continue
        ballasts_used.add(str(channel.get("ballast")))
        listed = channel.get("tubes")
        for index, name in enumerate(listed if isinstance(listed, list) else ()):
            path: Path = ("channels", id, "tubes", index)
            first = seen.get(str(name))
            if first and first[1] != id:  # twice on one channel is a fault of shape
                complaints.add(
                    "PHO302",
                    path,
                    f"tube '{short(name)}' already burns on channel '{first[1]}'",
                    "a tube stands on one channel",
                    related=(Related(message="first listed here", path=first),),
                )
            seen.setdefault(str(name), path)
    if complaints.has_errors:
        return  # what is unused may only be misspelt
    for id in complaints.ids("tubes"):
        if id not in seen:
            complaints.add(
                "PHO318",
                ("tubes", id),
                f"tube '{id}' burns on no channel",
                on_key=True,
                help="list it on a channel, or remove it",
            )
    for id in complaints.ids("ballasts"):
        if id not in ballasts_used:
            complaints.add(
                "PHO318", ("ballasts", id), f"no channel uses ballast '{id}'", on_key=True
            )


def check_whole(
    channels: dict[str, Channel | None],
    zones: dict[str, Zone | None],
    controller: Controller | None,
    complaints: Findings,
) -> None:
    """Complain of zones without light, light without zones, and times off the grid."""
    if None in channels.values() or complaints.top.at("channels") in complaints.top.bad:
        return
    lit = {name for c in channels.values() if c for name, ppfd in c.full_ppfd.items() if ppfd}
    for id, zone in zones.items():
        if zone is not None and id not in lit:
            complaints.add(
                "PHO317",
                ("zones", id),
                f"no channel gives zone '{id}' any light",
                "name it under `full_ppfd: {zones: …}` of the channels that light it",
                on_key=True,
            )
    follows_sky = any(channel.rule for channel in channels.values() if channel)
    if not follows_sky and not complaints.has_errors:
        for key in ("sky", "seasons"):
            if complaints.top.has(key):
                complaints.add(
                    "PHO318",
                    (key,),
                    f"'{key}' changes nothing: no channel follows the sun or the moon",
                    "write times such as `sunrise`, or `kind: sun`; or remove it",
                    on_key=True,
                )
    for channel in channels.values():
        if channel is None:
            continue
        if zones and not channel.full_ppfd:
            complaints.add(
                "PHO325",
                channel.origin,
                f"the light of channel '{channel.id}' is counted in no zone",
                "measure it at full, alone, and write `full_ppfd`",
                on_key=True,
            )
        if controller is None:
            continue
        step = controller.times.step_s
        corners = channel.curve.corners() if channel.curve else set()
        off = sorted(second for second in corners if second % step)
        if off:
            shown = ", ".join(clock_text(second) for second in off[:4])
            complaints.add(
                "PHO323",
                channel.origin,
                f"channel '{channel.id}' changes its course at"
                f" {shown}{' …' if len(off) > 4 else ''}, off the controller's grid of"
                f" {number_text(step / 60)} min",
                on_key=True,
            )
