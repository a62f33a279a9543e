"""Read what may move, and refuse doses for which no day can be looked for."""

from __future__ import annotations

from collections.abc import Mapping

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import Ramps, follows_sky
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Channel, Zone
from photoperiod.schedule.moves import MayMove
from photoperiod.text import and_list, number_text, suggestion
from photoperiod.units import SECONDS_PER_HOUR


def read_wanted(cursor: Cursor, findings: Findings) -> tuple[float, float] | None:
    """Return the dose that a zone asks for, least and most; None for none. [mol m⁻² d⁻¹]"""
    wanted = cursor.get("wanted_dli")
    if wanted is None:
        return None
    if isinstance(wanted, list):
        return _range(cursor, "wanted_dli", findings)
    return float(wanted), float(wanted)


def read_may_move(cursor: Cursor, findings: Findings) -> MayMove | None:
    """Return what of a channel may move, None for nothing."""
    if not cursor.has("may_move"):
        return None
    moves = cursor.child("may_move")
    light = day = None
    if moves.has("peak_light_percent"):
        low, high = _range(moves, "peak_light_percent", findings)
        light = (low / 100, high / 100)
    if moves.has("day_hours"):
        low, high = _range(moves, "day_hours", findings)
        day = (round(low * SECONDS_PER_HOUR), round(high * SECONDS_PER_HOUR))
    return MayMove(peak_light=light, day_s=day, together_with=moves.text("together_with"))


def _range(cursor: Cursor, key: str, findings: Findings) -> tuple[float, float]:
    low, high = cursor.get(key)
    if low > high:
        findings.add("PHO319", cursor.at(key), f"{low} is above {high}", f"write [{high}, {low}]")
        raise AlreadyReported
    return float(low), float(high)


def check_moves(
    channels: Mapping[str, Channel],
    zones: Mapping[str, Zone],
    is_by_sky: bool,
    findings: Findings,
) -> None:
    """Report what can't move, and doses for which no day can be looked for.

    Parameters
    ----------
    channels, zones : mapping of str to Channel, Zone
        All of a schedule.
    is_by_sky : bool
        True if some day, of a channel or of a change, is another one on each date.
    findings : Findings
        Gets what is found.
    """
    known = len(findings)
    for channel in channels.values():
        _check_channel(channel, channels, findings)
    if len(findings) > known:
        return
    for zone in zones.values():
        _check_zone(zone, channels, is_by_sky, findings)
    if any(zone.wanted_dli is not None for zone in zones.values()):
        return
    for channel in channels.values():
        if channel.may_move is not None:
            findings.add(
                "PHO318",
                (*channel.path, "may_move"),
                "'may_move' changes nothing: no zone asks for a dose",
                "write `wanted_dli` in a zone, or remove it",
                on_key=True,
            )


def _check_channel(channel: Channel, channels: Mapping[str, Channel], findings: Findings) -> None:
    moves, path = channel.may_move, (*channel.path, "may_move")
    if moves is None:
        return
    day = channel.day
    if not isinstance(day, Ramps) or follows_sky(day):
        what = "there is none" if day is None else "it is not of ramps by the clock"
        _refuse_move(
            findings,
            path,
            f"the day of channel '{channel.id}' can't move: {what}",
            "only `kind: ramps` with clock times can be moved so far",
        )
        return
    if not any(peak.light for peak in day.peaks):
        _refuse_move(
            findings,
            path,
            f"channel '{channel.id}' has no peak above 0 %, so there is nothing to move",
            "write a peak to begin with",
        )
    other = moves.together_with
    if not other:
        return
    at = (*path, "together_with")
    if other not in channels:
        findings.add(
            "PHO301", at, f"there is no channel '{other}'", suggestion(other, channels, "channel")
        )
        return
    first = channels[other].may_move
    if other == channel.id or first is None or first.together_with or first.peak_light is None:
        _refuse_move(
            findings,
            at,
            f"channel '{channel.id}' is to keep its ratio to '{other}', whose peak light does not move by"
            " itself",
            f"write `may_move: {{peak_light_percent: [40, 90]}}` for '{other}', or name another channel",
        )


def _refuse_move(findings: Findings, path: Path, message: str, help: str) -> None:
    findings.add("PHO341", path, message, help)


def _check_zone(
    zone: Zone, channels: Mapping[str, Channel], is_by_sky: bool, findings: Findings
) -> None:
    wanted, path = zone.wanted_dli, (*zone.path, "wanted_dli")
    if wanted is None:
        return
    if zone.dli_band is not None:
        low, high = zone.dli_band
        if wanted[0] < low or wanted[1] > high:
            findings.add(
                "PHO342",
                path,
                f"zone '{zone.id}' asks for {_dose_text(wanted)} mol m⁻² d⁻¹, outside its limits of"
                f" {number_text(low)} to {number_text(high)}",
                "ask for a dose within `dli`, or change `dli`",
            )
            return
    unknown = unknown_in(zone, channels.values())
    moving = [c for c in channels.values() if c.may_move is not None and c.full_ppfd.get(zone.id)]
    reason = ""
    by_sky = [f"'{id}'" for id, channel in channels.items() if channel.follows_sky]
    if is_by_sky:
        who = and_list(by_sky) or "a day of `day_plans`"
        reason = (
            f"{who} {'follow' if len(by_sky) > 1 else 'follows'} the sky, so that each date has another dose,"
            " and one table stands for many of them"
        )
        help = (
            "write the band that all dates must keep as `dli`: PHO405 holds each table against it; or let"
            " these channels go by the clock (`moonlight: {kind: steady, …}`)"
        )
    elif unknown:
        reason = f"the light of {and_list(unknown)} is not known there"
        help = f"measure it, or write `{zone.id}: 0` if none of its light falls there"
    elif not moving:
        reason = "no channel that lights it may move"
        help = "write `may_move: {peak_light_percent: [40, 90]}` for a channel"
    if reason:
        findings.add(
            "PHO340", path, f"no day can be found for the dose of zone '{zone.id}': {reason}", help
        )


def _dose_text(wanted: tuple[float, float]) -> str:
    low, high = (number_text(each) for each in wanted)
    return low if low == high else f"{low} to {high}"
