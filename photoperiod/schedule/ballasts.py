"""Ballasts: their response, floor and darkness, and whether the controller can serve them."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

from photoperiod.diagnostics.model import Path, Related
from photoperiod.drive.ballast import (
    NOISE_LIGHT,
    BallastCurve,
    BelowFloor,
    DarkKind,
    ResponseKind,
    levelled,
)
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import RelayKind, RelayMode
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import VOLTS_SLACK, Findings
from photoperiod.schedule.model import Ballast, Controller, Watts
from photoperiod.schedule.readings_files import ReadingsFiles
from photoperiod.schedule.swept import SWEPT, swept
from photoperiod.text import number_text, plain_number
from photoperiod.units import CONTROL_MILLIAMPS_PER_BALLAST, CONTROL_VOLTS_FULL


def build_ballast(id: str, cursor: Cursor, files: ReadingsFiles, findings: Findings) -> Ballast:
    """Return a ballast, or raise AlreadyReported."""
    floor, dark = cursor.child("floor"), cursor.child("dark")
    full_volts = cursor.number("full_volts")
    floor_volts, floor_light = floor.number("volts"), floor.number("light_percent") / 100
    known = len(findings)
    _check_floor(cursor, full_volts, findings)
    dark_kind = dark.kind("kind", DarkKind)
    standby_volts = _standby_volts(dark, floor, findings) if dark_kind == DarkKind.STANDBY else 0.0
    if len(findings) > known:
        raise AlreadyReported
    response = cursor.child("response")
    volts: tuple[float, ...] = ()
    light: tuple[float, ...] = ()
    if response.text("kind") == SWEPT:
        kind = ResponseKind.MEASURED
        volts, light = swept(response, (floor_volts, floor_light, full_volts), files, findings)
    else:
        kind = response.kind("kind", ResponseKind)
    if kind == ResponseKind.MEASURED and not volts:
        volts, light = _measured(response, floor_volts, floor_light, full_volts, findings)
    if dark_kind != DarkKind.NEVER and not cursor.has("below_floor"):
        findings.add(
            "PHO324",
            cursor.path,
            f"'below_floor' is taken as nearest: '{id}' is dark for light below"
            f" {number_text(floor.number('light_percent') / 2)} % and at its floor above",
            "say what is to become of light below the floor",
            on_key=True,
        )
    return Ballast(
        id=id,
        label=cursor.text("label"),
        watts=_watts(cursor, findings),
        curve=BallastCurve(
            kind=kind,
            floor_volts=floor_volts,
            full_volts=full_volts,
            floor_light=light[0] if light else floor_light,
            dark=dark_kind,
            standby_volts=standby_volts,
            keeps_mains=bool(dark.get("keeps_mains", False)),
            below_floor=cursor.kind("below_floor", BelowFloor, BelowFloor.NEAREST),
            volts=volts,
            light=light,
        ),
        control_milliamps=cursor.number("control_milliamps", CONTROL_MILLIAMPS_PER_BALLAST),
    )


def _check_floor(cursor: Cursor, full_volts: float, findings: Findings) -> None:
    """Report a floor that is not below full."""
    floor = cursor.child("floor")
    if floor.number("volts") >= full_volts:
        findings.add(
            "PHO308",
            floor.at("volts"),
            f"the floor at {plain_number(floor.number('volts'))} V is not"
            f" below full at {plain_number(full_volts)} V",
            "the floor is the least light, at low volts; full is the most, usually at 10 V: look into the"
            " data sheet",
            related=(Related(message="full is written here", path=cursor.at("full_volts")),),
        )
    if floor.number("light_percent") >= 100:
        findings.add(
            "PHO308",
            floor.at("light_percent"),
            "the floor gives as much light as full",
            "the floor is the least light of its dimming range: of 1 to 100 % it is 1",
        )


def _standby_volts(dark: Cursor, floor: Cursor, findings: Findings) -> float:
    """Return the volts below which a ballast goes into standby; report them above the floor. [V]"""
    volts = dark.number("below_volts")
    if volts > floor.number("volts"):
        findings.add(
            "PHO309",
            dark.at("below_volts"),
            f"standby below {plain_number(volts)} V"
            f" reaches above the floor at {plain_number(floor.number('volts'))} V",
            related=(Related(message="the floor is written here", path=floor.at("volts")),),
        )
    return volts


def _watts(cursor: Cursor, findings: Findings) -> Watts | None:
    """Return the mains power of a ballast, None if it is unknown."""
    if not cursor.has("watts"):
        return None
    power = cursor.child("watts")
    watts = Watts(full=power.number("full"), floor=power.number("floor"), dark=power.number("dark"))
    if watts.floor > watts.full:
        findings.add(
            "PHO319", power.at("floor"), "the floor takes more power than full", "swap them"
        )
    return watts


def _measured(
    response: Cursor,
    floor_volts: float,
    floor_light: float,
    full_volts: float,
    findings: Findings,
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the volts [V] and the light [fraction of full] of a measured response, dips levelled."""
    points = list(response.list("points"))
    volts = [point.number("volts") for point in points]
    raw = [point.number("light_percent") / 100 for point in points]
    for index in range(1, len(volts)):
        if volts[index] <= volts[index - 1]:
            findings.add(
                "PHO310",
                points[index].at("volts"),
                f"{plain_number(volts[index])} V does not rise above the"
                f" {plain_number(volts[index - 1])} V before it",
                "write the points in the order of their volts",
            )
            raise AlreadyReported
    missed = False
    ends = ((0, floor_volts, floor_light, "floor"), (-1, full_volts, 1.0, "full"))
    for index, end_volts, end_light, name in ends:
        if abs(volts[index] - end_volts) > VOLTS_SLACK or abs(raw[index] - end_light) > VOLTS_SLACK:
            which = "last" if index else "first"
            findings.add(
                "PHO313",
                points[index].path,
                f"the {which} point is not {name}:"
                f" {number_text(end_volts, 3)} V and {number_text(end_light * 100)} %",
                "add it, or correct floor or full_volts",
            )
            missed = True
    if missed:
        raise AlreadyReported
    return tuple(volts), _levelled(response, points, volts, raw, findings)


def _levelled(
    response: Cursor,
    points: list[Cursor],
    volts: list[float],
    raw: list[float],
    findings: Findings,
) -> tuple[float, ...]:
    """Return measured light that never falls with the volts; refuse more than a meter's noise."""
    light, moved = levelled(raw)
    dips = sum(b < a for a, b in itertools.pairwise(raw))
    falls = [top - value for top, value in zip(itertools.accumulate(raw, max), raw, strict=True)]
    if max(falls) > NOISE_LIGHT:
        index = falls.index(max(falls))
        findings.add(
            "PHO310",
            points[index].at("light_percent"),
            f"the light has fallen by {plain_number(round(max(falls) * 100, 6))} % of full here",
            "more volts must not give less light; measure again with a warm lamp",
        )
        raise AlreadyReported
    if dips:
        findings.add(
            "PHO311",
            response.at("points"),
            f"{dips} small {'dip was' if dips == 1 else 'dips were'} levelled, by at most"
            f" {number_text(moved * 100)} % of full",
            on_key=True,
        )
    for index in range(1, len(light)):
        if abs(raw[index] - raw[index - 1]) < 1e-9:
            findings.add(
                "PHO312",
                points[index].at("light_percent"),
                f"from {plain_number(volts[index - 1])} V to"
                f" {plain_number(volts[index])} V the light does not change",
            )
    return tuple(light)


def meet_ballasts(
    controller: Controller, ballasts: Mapping[str, Ballast | None], findings: Findings
) -> None:
    """Refuse ballasts that this controller's relay or converter can't serve."""
    for ballast in ballasts.values():
        if ballast is None:
            continue
        if ballast.curve.dark == DarkKind.RELAY and controller.relay.kind == RelayKind.NONE:
            findings.add(
                "PHO307",
                (*ballast.path, "dark"),
                f"only a relay makes '{ballast.id}' dark, but the controller has none",
                "give the controller a relay; `dark: {kind: never}` means a night at the floor",
                related=(Related(message="no relay here", path=(*controller.path, "relay")),),
            )
        check_volts(controller.converter, controller.relay, ballast, None, findings)
        _check_relay_level(controller, ballast, findings)


def check_volts(
    converter: Converter,
    relay: RelayMode,
    ballast: Ballast,
    place: Path | None,
    findings: Findings,
) -> None:
    """Refuse a ballast whose floor the port can't reach, or its standby where no relay makes it dark.

    ``place`` is that of the converter where it is a channel's own; None marks the ballast.
    """
    curve = ballast.curve
    high_volts = converter.volts_at(converter.full_code)
    if high_volts < curve.floor_volts:
        findings.add(
            "PHO314",
            place or (*ballast.path, "floor", "volts"),
            f"the port's top, {plain_number(round(high_volts, 6))}"
            f" V, is below the floor of '{ballast.id}'",
        )
    low_volts = max(converter.volts_at(0), 0.0)
    lowest, what, at = curve.floor_volts, "reach its floor", ("floor", "volts")
    opens = relay.kind == RelayKind.FOLLOWS_LEVEL or (
        relay.kind == RelayKind.COLUMN and not curve.keeps_mains
    )
    if curve.dark == DarkKind.STANDBY and not opens:
        lowest, what, at = curve.standby_volts, "go into standby", ("dark", "below_volts")
    if low_volts > lowest + VOLTS_SLACK:
        findings.add(
            "PHO314",
            place or (*ballast.path, *at),
            f"the port gives at least"
            f" {plain_number(round(low_volts, 6))} V, so '{ballast.id}' can never {what}",
            "a resistor across the pair or a better output stage lowers it",
        )


def _check_relay_level(controller: Controller, ballast: Ballast, findings: Findings) -> None:
    """Refuse a relay that follows the level and closes at a level that does not suit a ballast."""
    relay, curve = controller.relay, ballast.curve
    if relay.kind != RelayKind.FOLLOWS_LEVEL or curve.dark == DarkKind.NEVER:
        return
    levels = controller.levels.level_percents(controller.converter)
    least = float(levels[min(1, levels.size - 1)])
    floor_percent = curve.floor_volts / CONTROL_VOLTS_FULL * 100
    if least <= relay.on_level_percent <= floor_percent + 1e-9:
        return
    if any(finding.code == "PHO322" for finding in findings):
        return  # the level is one fault, whatever the number of ballasts
    choice = f"choose from {number_text(least)} to {number_text(floor_percent)} %"
    if least > floor_percent:
        choice = "use a finer level step, or let rows hold the relay's state"
    findings.add(
        "PHO322",
        (*controller.path, "relay", "on_level_percent"),
        f"a relay that closes at {number_text(relay.on_level_percent)} % does not"
        f" suit '{ballast.id}': its floor is at {number_text(floor_percent)} %, one"
        f" step of the controller is {number_text(least)} %",
        choice,
    )
