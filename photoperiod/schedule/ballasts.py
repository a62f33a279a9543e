"""Ballasts: their response, floor and darkness, and whether the controller can serve them."""

from __future__ import annotations

import itertools

from photoperiod.diagnostics.model import Related
from photoperiod.drive.ballast import (
    NOISE_LIGHT,
    BallastCurve,
    BelowFloor,
    DarkKind,
    ResponseKind,
    levelled,
)
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import VOLTS_SLACK, Findings
from photoperiod.schedule.model import Ballast, Controller, Watts
from photoperiod.text import number_text, plain_number
from photoperiod.units import CONTROL_MILLIAMPS_PER_BALLAST, CONTROL_VOLTS_FULL


def lower_ballast(id: str, view: Cursor, complaints: Findings) -> Ballast:
    """Return a ballast, or raise AlreadyReported."""
    floor = view.child("floor")
    dark = view.child("dark")
    full_volts = view.number("full_volts")
    floor_volts, floor_percent = floor.number("volts"), floor.number("light_percent")
    failed = False
    if floor_volts >= full_volts:
        complaints.add(
            "PHO308",
            floor.at("volts"),
            f"the floor at {plain_number(floor_volts)} V is not"
            f" below full at {plain_number(full_volts)} V",
            related=(Related(message="full is written here", path=view.at("full_volts")),),
        )
        failed = True
    if floor_percent >= 100:
        complaints.add("PHO308", floor.at("light_percent"), "the floor gives as much light as full")
        failed = True
    standby = dark.number("below_volts") if dark.text("kind") == "standby" else 0.0
    if standby > floor_volts:
        complaints.add(
            "PHO309",
            dark.at("below_volts"),
            f"standby below {plain_number(standby)} V"
            f" reaches above the floor at {plain_number(floor_volts)} V",
            related=(Related(message="the floor is written here", path=floor.at("volts")),),
        )
        failed = True
    if failed:
        raise AlreadyReported
    response = view.child("response")
    volts: tuple[float, ...] = ()
    light: tuple[float, ...] = ()
    floor_light = floor_percent / 100
    if response.text("kind") == "measured":
        volts, light = _measured(response, floor_volts, floor_light, full_volts, complaints)
        floor_light = light[0]
    if dark.text("kind") != "never" and not view.has("below_floor"):
        complaints.add(
            "PHO324",
            view.path,
            f"'below_floor' is taken as nearest: '{id}' is dark for"
            f" light below {number_text(floor_percent / 2)} % and at its floor above",
            "say what is to become of light below the floor",
            on_key=True,
        )
    watts = None
    if view.has("watts"):
        power = view.child("watts")
        if power.number("floor") > power.number("full"):
            complaints.add(
                "PHO319", power.at("floor"), "the floor takes more power than full", "swap them"
            )
        watts = Watts(
            full=power.number("full"), floor=power.number("floor"), dark=power.number("dark")
        )
    return Ballast(
        id=id,
        label=view.text("label", id),
        curve=BallastCurve(
            kind=ResponseKind(response.text("kind")),
            floor_volts=floor_volts,
            full_volts=full_volts,
            floor_light=floor_light,
            dark=DarkKind(dark.text("kind")),
            standby_volts=standby,
            below_floor=BelowFloor(view.text("below_floor", BelowFloor.NEAREST)),
            volts=volts,
            light=light,
        ),
        control_milliamps=view.number("control_milliamps", CONTROL_MILLIAMPS_PER_BALLAST),
        watts=watts,
        origin=view.path,
    )


def _measured(
    response: Cursor,
    floor_volts: float,
    floor_light: float,
    full_volts: float,
    complaints: Findings,
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    views = list(response.list("points"))
    volts = [view.number("volts") for view in views]
    raw = [view.number("light_percent") / 100 for view in views]
    for index in range(1, len(volts)):
        if volts[index] <= volts[index - 1]:
            complaints.add(
                "PHO310",
                views[index].at("volts"),
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
            complaints.add(
                "PHO313",
                views[index].path,
                f"the {which} point is not {name}:"
                f" {number_text(end_volts, 3)} V and {number_text(end_light * 100)} %",
                "add it, or correct floor or full_volts",
            )
            missed = True
    if missed:
        raise AlreadyReported
    light, moved = levelled(raw)
    dips = [b - a for a, b in itertools.pairwise(raw) if b < a]
    falls = [top - value for top, value in zip(itertools.accumulate(raw, max), raw, strict=True)]
    if max(falls) > NOISE_LIGHT:
        index = falls.index(max(falls))
        complaints.add(
            "PHO310",
            views[index].at("light_percent"),
            f"the light has fallen by {plain_number(round(max(falls) * 100, 6))} % of full here",
            "more volts must not give less light; measure again with a warm lamp",
        )
        raise AlreadyReported
    if dips:
        complaints.add(
            "PHO311",
            response.at("points"),
            f"{len(dips)} small"
            f" {'dip was' if len(dips) == 1 else 'dips were'} levelled, by at most"
            f" {number_text(moved * 100)} % of full",
            on_key=True,
        )
    for index in range(1, len(light)):
        if abs(raw[index] - raw[index - 1]) < 1e-9:
            complaints.add(
                "PHO312",
                views[index].at("light_percent"),
                f"from {plain_number(volts[index - 1])} V to"
                f" {plain_number(volts[index])} V the light does not change",
            )
    return tuple(volts), tuple(light)


def meet_ballasts(
    controller: Controller, ballasts: dict[str, Ballast | None], complaints: Findings
) -> None:
    """Complain of ballasts that this controller's relay or converter can't serve."""
    relay, converter = controller.relay, controller.converter
    low_volts, high_volts = (
        max(converter.offset_volts, 0.0),
        converter.offset_volts + converter.full_code * converter.volts_per_code,
    )
    for ballast in ballasts.values():
        if ballast is None:
            continue
        curve, origin = ballast.curve, ballast.origin
        if curve.dark == "relay" and relay.kind == "none":
            complaints.add(
                "PHO307",
                (*origin, "dark"),
                f"only a relay makes '{ballast.id}' dark, but the controller has none",
                "give the controller a relay; `dark: {kind: never}` means a night at the floor",
                related=(Related(message="no relay here", path=("controller", "relay")),),
            )
        if high_volts < curve.floor_volts:
            complaints.add(
                "PHO314",
                (*origin, "floor", "volts"),
                f"the port's top, {plain_number(round(high_volts, 6))}"
                f" V, is below the floor of '{ballast.id}'",
            )
        lowest = curve.standby_volts if curve.dark == "standby" else curve.floor_volts
        if low_volts > lowest + VOLTS_SLACK:
            what = "go into standby" if curve.dark == "standby" else "reach its floor"
            complaints.add(
                "PHO314",
                (*origin, "dark", "below_volts")
                if curve.dark == "standby"
                else (*origin, "floor", "volts"),
                f"the port gives at least"
                f" {plain_number(round(low_volts, 6))} V, so '{ballast.id}' can never {what}",
                "a resistor across the pair or a better output stage lowers it",
            )
        if relay.kind == "follows-level" and curve.dark != "never":
            levels = controller.levels.level_percents(converter)
            least = float(levels[min(1, levels.size - 1)])
            floor_percent = curve.floor_volts / CONTROL_VOLTS_FULL * 100
            told = any(complaint.code == "PHO322" for complaint in complaints)
            if not told and not least <= relay.on_level_percent <= floor_percent + 1e-9:
                choice = f"choose from {number_text(least)} to {number_text(floor_percent)} %"
                if least > floor_percent:
                    choice = "use a finer level step, or let rows hold the relay's state"
                complaints.add(
                    "PHO322",
                    ("controller", "relay", "on_level_percent"),
                    f"a relay that closes at {number_text(relay.on_level_percent)} % does not"
                    f" suit '{ballast.id}': its floor is at {number_text(floor_percent)} %, one"
                    f" step of the controller is {number_text(least)} %",
                    choice,
                )
