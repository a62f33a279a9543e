"""Channels, and whatever needs all channels together."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from photoperiod.curves.segment import corners_of
from photoperiod.diagnostics.model import Path, Related
from photoperiod.drive.ballast import DarkKind
from photoperiod.schedule.converters import build_converter, check_outputs
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import Day, Moonlight
from photoperiod.schedule.day_reader import read_day, read_moonlight
from photoperiod.schedule.day_rules import ClockTimes, DayRules, NeedsDate, check_bounds
from photoperiod.schedule.findings import FileFindings, Findings
from photoperiod.schedule.full_ppfd import LightMaps, read_full_ppfd
from photoperiod.schedule.model import Ballast, Channel, Controller, Zone
from photoperiod.schedule.move_rules import read_may_move
from photoperiod.schedule.place import PLACE_EXAMPLE
from photoperiod.schedule.spectra import Spectra
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import Measured, check_places, measured
from photoperiod.text import clock_text, number_text, short
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_DAY, SECONDS_PER_MINUTE

#: Watts of tubes beside those of their ballasts at full, losses included, that fit [ratio]. A ballast
#: too many or too few for one or two is outside. Our choice, no source.
LEAST_WATTS_SHARE, MOST_WATTS_SHARE = 2 / 3, 4 / 3


def build_channel(
    id: str,
    cursor: Cursor,
    ballasts: Mapping[str, Ballast | None],
    tubes: Mapping[str, Tube | None],
    zones: Mapping[str, Zone | None],
    maps: LightMaps,
    spectra: Spectra,
    findings: FileFindings,
) -> Channel:
    """Return a channel, or raise AlreadyReported."""
    ballast_id = cursor.text("ballast")
    known = findings.knows(ballast_id, "ballasts", cursor.at("ballast"))
    mine: list[Tube | None] = []
    for name, path in cursor.names("tubes"):
        known &= findings.knows(name, "tubes", path)
        mine.append(tubes.get(name))
    full = read_full_ppfd(id, cursor, zones, maps, findings)
    shares = spectra.of(cursor)
    day, moonlight = read_plans(cursor, findings)
    converter = None
    if cursor.has("converter"):
        port = findings.top.child("controller").child_or_empty("port")
        most_volts = port.number("most_volts", CONTROL_VOLTS_FULL)
        converter = build_converter(cursor.child("converter"), most_volts, findings)
    ballast = ballasts.get(ballast_id)
    present = tuple(tube for tube in mine if tube)
    if not known or ballast is None or len(present) < len(mine):
        raise AlreadyReported
    channel = Channel(
        id=id,
        label=cursor.text("label"),
        ballast=ballast,
        ballast_count=cursor.integer("ballast_count", 1),
        weight=cursor.number("weight", 1.0),
        converter=converter,
        tubes=present,
        full_ppfd=full.full_ppfd,
        ppfd_spread=full.ppfd_spread,
        measured_on=full.measured_on,
        beyond_readings=full.beyond_readings,
        photon_shares=shares,
        measured_cold=bool(cursor.child_or_empty("full_ppfd").get("measured_cold", False)),
        day=day,
        moonlight=moonlight,
        safe_light=cursor.number("safe_light_percent", 0.0) / 100,
        may_move=read_may_move(cursor, findings),
        held_within=_held_within(cursor),
    )
    check_hold(channel, findings)
    check_channel_tubes(channel, findings)
    check_watts(channel, findings)
    if not cursor.has("ballast_count") and not _is_one_ballast(channel):
        findings.add(
            "PHO324",
            channel.path,
            f"'ballast_count' of channel '{id}' is taken as 1",
            "write how many ballasts are on the output: current, energy and watts hang on it",
            on_key=True,
        )
    return channel


def _held_within(cursor: Cursor) -> float | None:
    """Return by which share the dose may fall before the levels rise, None to let the light fade."""
    if not cursor.has("hold_light"):
        return None
    return cursor.child("hold_light").number("dose_within_percent") / 100


def check_hold(channel: Channel, findings: Findings) -> None:
    """Refuse to hold the light of a channel whose days or tubes do not allow it."""
    if channel.held_within is None:
        return
    path = (*channel.path, "hold_light")
    if channel.follows_sky:
        findings.add(
            "PHO353",
            path,
            f"the light of channel '{channel.id}' can't be held: its days follow the sky",
            "so far light is held where days go by the clock; remove `hold_light`",
        )
    elif not any(tube.depreciation for tube in channel.tubes):
        findings.add(
            "PHO353",
            path,
            f"the light of channel '{channel.id}' can't be held: nothing says how its tubes fade",
            "give them `depreciation`, best from your own readings (`photoperiod measure series`)",
        )


def _is_one_ballast(channel: Channel) -> bool:
    """Return whether something says that a channel has one ballast: a single tube, or the watts."""
    share = _watts_share(channel)
    return len(channel.places) == 1 or (share is not None and _fits(share))


def _watts_share(channel: Channel) -> float | None:
    """Return the watts of the tubes beside those of the ballasts; None if they are not known. [ratio]

    Watts of a ballast that are faulty are told where they stand.
    """
    watts = channel.ballast.watts
    if watts is None or not channel.tubes or watts.full <= 0 or watts.floor > watts.full:
        return None
    return channel.tube_watts / (watts.full * channel.ballast_count)


def _fits(share: float) -> bool:
    return LEAST_WATTS_SHARE <= share <= MOST_WATTS_SHARE


def watts_disagree(channel: Channel) -> bool:
    """Return whether the tubes of a channel can't be all that burns on its ballasts, by their watts."""
    share = _watts_share(channel)
    return share is not None and not _fits(share)


def check_watts(channel: Channel, findings: Findings) -> None:
    """Report tubes that can't all burn on the ballasts of a channel, or that are too few for them."""
    watts, share = channel.ballast.watts, _watts_share(channel)
    if watts is None or share is None or _fits(share):
        return
    count = channel.ballast_count
    tubes_watts = number_text(channel.tube_watts)
    findings.add(
        "PHO336",
        channel.path,
        f"the tubes of channel '{channel.id}' have {tubes_watts} W together, its"
        f" {'ballast' if count == 1 else f'{count} ballasts'} {number_text(watts.full * count)} W",
        "write how many ballasts are on the output (`ballast_count`), and all tubes that burn on them",
        on_key=True,
    )


def read_plans(cursor: Cursor, findings: FileFindings) -> tuple[Day | None, Moonlight | None]:
    """Return the day and the moonlight of a channel, checked as far as that needs no date.

    The same for what takes their place by a day plan; the path then ends with the channel, too.
    """
    rules = DayRules(ClockTimes(), findings, cursor.bad)
    day: Day | None = None
    moonlight: Moonlight | None = None
    follows_sky = False
    if cursor.has("day"):
        day = read_day(cursor.child("day"))
        try:
            rules.segments(day, cursor.at("day"))
        except NeedsDate:
            follows_sky = True
    if cursor.has("moonlight"):
        moonlight = read_moonlight(cursor.child("moonlight"))
        try:
            if not follows_sky:
                rules.moonlight(moonlight, cursor.at("moonlight"))
        except NeedsDate:
            follows_sky = True
    if follows_sky:
        for key, plan in (("day", day), ("moonlight", moonlight)):
            if plan is not None:
                check_bounds(plan, cursor.at(key), findings)
        _check_place(cursor, findings)
    if day is None and moonlight is None:
        no_light(cursor.path, findings)
        raise AlreadyReported
    return day, moonlight


def no_light(path: Path, findings: Findings) -> None:
    """Refuse a channel without any light."""
    findings.add(
        "PHO316",
        path,
        f"channel '{path[-1]}' has neither a day nor moonlight",
        "add `day:` or `moonlight:`",
        on_key=True,
    )


def tube_elsewhere(
    id: str, channel: str, path: Path, findings: Findings, related: tuple[Related, ...] = ()
) -> None:
    """Refuse a tube that already burns on another channel."""
    findings.add(
        "PHO302",
        path,
        f"tube '{short(id)}' already burns on channel '{channel}'",
        "a tube stands on one channel",
        related=related,
    )


def _check_place(cursor: Cursor, findings: FileFindings) -> None:
    """Refuse a channel that follows the sky where no place says which."""
    if not findings.top.has("place"):
        findings.add(
            "PHO329",
            cursor.path,
            f"channel '{cursor.path[-1]}' follows the sky, but the schedule has no place",
            PLACE_EXAMPLE,
            on_key=True,
        )
        raise AlreadyReported


def check_channel_tubes(channel: Channel, findings: Findings) -> None:
    """Report tubes whose light at the measurement is unknown, and burn-in that can't be done."""
    check_places(channel, findings)
    tubes = channel.tubes
    unknown = any(measured(channel, line) is Measured.UNKNOWN for line in channel.places)
    if channel.full_ppfd and channel.measured_on is None and unknown:
        findings.add(
            "PHO324",
            (*channel.path, "full_ppfd"),
            f"'full_ppfd' of channel '{channel.id}' is taken as measured with tubes of a hundred hours",
            "say when it was measured: `measured_on: 2027-03-20`",
            on_key=True,
        )
    elif _counts_on_each_date(channel):
        findings.add(
            "PHO324",
            (*channel.path, "full_ppfd"),
            f"'full_ppfd' of channel '{channel.id}' is taken as that of each date, before and after"
            " tubes are fitted",
            "say when it was measured, `measured_on: 2027-03-20`, and give the tubes `depreciation`",
            on_key=True,
        )
    for tube in tubes:
        if tube.burn_in_full_hours > 0 and channel.ballast.curve.dark == DarkKind.NEVER:
            findings.add(
                "PHO320",
                (*tube.path, "burn_in_full_hours"),
                f"tube '{tube.id}' is to burn in on channel '{channel.id}', whose ballast is never dark",
                "burn it in elsewhere and enter the hours as `lit_hours`",
            )


def _counts_on_each_date(channel: Channel) -> bool:
    """Return whether new tubes change nothing, because neither a date nor any loss is declared."""
    return (
        bool(channel.full_ppfd)
        and channel.measured_on is None
        and any(tube.fitted for tube in channel.tubes)
        and not any(tube.depreciation for tube in channel.tubes)
    )


def check_uses(findings: FileFindings) -> None:
    """Refuse tubes in two places; report tubes and ballasts that nothing uses.

    The file is looked at here, not the values: a channel with another fault uses its tubes too.
    """
    seen: dict[str, Path] = {}
    ballasts_used: set[str] = set()
    channels = findings.top.data.get("channels")
    for id, channel in channels.items() if isinstance(channels, dict) else ():
        if not isinstance(channel, dict):
            continue
        ballasts_used.add(str(channel.get("ballast")))
        listed = channel.get("tubes")
        for index, name in enumerate(listed if isinstance(listed, list) else ()):
            path: Path = ("channels", id, "tubes", index)
            first = seen.setdefault(str(name), path)
            if first[1] != id:  # twice on one channel is a fault of shape
                seen_there = Related(message="first listed here", path=first)
                tube_elsewhere(str(name), str(first[1]), path, findings, (seen_there,))
    if findings.has_errors:
        return  # what seems unused may be misspelt where it is used
    for id in findings.ids("tubes"):
        if id not in seen:
            findings.add(
                "PHO318",
                ("tubes", id),
                f"tube '{id}' burns on no channel",
                "list it on a channel, or remove it",
                on_key=True,
            )
    for id in findings.ids("ballasts"):
        if id not in ballasts_used:
            findings.add("PHO318", ("ballasts", id), f"no channel uses ballast '{id}'", on_key=True)


def check_whole(
    channels: Mapping[str, Channel | None],
    zones: Mapping[str, Zone | None],
    controller: Controller | None,
    findings: FileFindings,
) -> None:
    """Report zones without light, light without zones, and times off the controller's grid."""
    whole = [channel for channel in channels.values() if channel is not None]
    if len(whole) < len(channels) or findings.top.at("channels") in findings.top.bad:
        return
    check_zones(whole, zones, findings)
    check_unknown_light(whole, zones, findings)
    if not any(channel.follows_sky for channel in whole) and not findings.has_errors:
        for key in ("sky", "dated_tables"):
            if findings.top.has(key):
                findings.add(
                    "PHO318",
                    (key,),
                    f"'{key}' changes nothing: no channel follows the sun or the moon",
                    "write times such as `sunrise`, or `kind: sun`; or remove it",
                    on_key=True,
                )
    elif not findings.has_errors:
        _check_apart(whole, findings)
    if controller is not None:
        check_outputs(controller, whole, findings)
    for channel in whole:
        if controller is not None:
            _check_grid(channel, controller.times.step_s, findings)


def _check_apart(channels: list[Channel], findings: FileFindings) -> None:
    """Report dated tables that are asked of a sun or a moon that no channel follows."""
    follow = {
        "sun": any(not channel.follows_moon for channel in channels if channel.follows_sky),
        "moon": any(channel.follows_moon for channel in channels),
    }
    asked = findings.top.child_or_empty("dated_tables")
    for key, is_followed in follow.items():
        if asked.has(key) and not is_followed:
            findings.add(
                "PHO318",
                asked.at(key),
                f"'{key}' changes nothing: no channel follows the {key}"
                + (" by its phase" if key == "moon" else ""),
                "remove it, or write its keys right under `dated_tables`",
                on_key=True,
            )


def check_zones(
    channels: list[Channel], zones: Mapping[str, Zone | None], findings: Findings
) -> None:
    """Report zones that no channel gives any light."""
    lit = _lit_zones(channels)
    for id, zone in zones.items():
        if zone is not None and id not in lit:
            findings.add(
                "PHO317",
                ("zones", id),
                f"no channel gives zone '{id}' any light",
                "name it under `full_ppfd: {zones: …}` of the channels that light it",
                on_key=True,
            )


def _lit_zones(channels: Iterable[Channel]) -> set[str]:
    """Return the zones that some channel gives light, by id."""
    return {name for c in channels for name, ppfd in c.full_ppfd.items() if ppfd}


def check_unknown_light(
    channels: Collection[Channel], zones: Collection[str], findings: Findings
) -> None:
    """Report channels whose light is not known in some zones, or in none.

    A zone that no channel lights is another fault, and reported as such.
    """
    lit = _lit_zones(channels)
    for channel in channels:
        left_out = [id for id in zones if id in lit and id not in channel.full_ppfd]
        if zones and not channel.full_ppfd:
            findings.add(
                "PHO325",
                channel.path,
                f"the light of channel '{channel.id}' is counted in no zone",
                "measure it at full, alone, and write `full_ppfd`",
                on_key=True,
            )
        elif left_out:
            names = ", ".join(f"'{id}'" for id in left_out)
            findings.add(
                "PHO334",
                (*channel.path, "full_ppfd", "zones"),
                f"channel '{channel.id}' leaves out {'zone' if len(left_out) == 1 else 'zones'} {names}:"
                " what it gives there is not known, and no limit there can be shown to be kept",
                f"measure it there, or write `{left_out[0]}: 0` if none of its light falls there",
                on_key=True,
            )


def _check_grid(channel: Channel, step_s: int, findings: Findings) -> None:
    """Report times of a day by the clock at which the controller can have no row."""
    report_off_grid(channel, channel.path, step_s, findings)


def report_off_grid(channel: Channel, path: Path, step_s: int, findings: Findings) -> None:
    """Report times of a channel's day at which the controller can have no row; its day stands at a path."""
    off = sorted(second for second in _corners(channel) if second % step_s)
    if off:
        shown = ", ".join(clock_text(second) for second in off[:4])
        findings.add(
            "PHO323",
            path,
            f"channel '{channel.id}' changes its course at"
            f" {shown}{' …' if len(off) > 4 else ''}, off the controller's grid of"
            f" {number_text(step_s / SECONDS_PER_MINUTE)} min",
            on_key=True,
        )


def _corners(channel: Channel) -> set[int]:
    """Return the seconds of the day at which ramps begin and end; none if it follows the sky."""
    if channel.follows_sky:
        return set()
    rules = DayRules(ClockTimes(), Findings())
    segments = rules.segments(channel.day, ()) if channel.day else ()
    night = rules.moonlight(channel.moonlight, ()) if channel.moonlight else ()
    return {second % SECONDS_PER_DAY for second in corners_of((*segments, *night))}
