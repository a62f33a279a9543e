"""What a table file tells beside its rows: its schedule, the controller, and the light paths.

JSON, CSV and binary exports all hold it as the same JSON object. `about_data` turns the value into
plain data, `about_of_data` turns plain data back into the value.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from typing import Any

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.ballast import BallastCurve, DarkKind, ResponseKind
from photoperiod.drive.converter import Converter, ConverterKind
from photoperiod.drive.grid import (
    AfterLastRow,
    Between,
    LevelGrid,
    LevelUnit,
    RelayKind,
    RelayMode,
    Rounding,
    TimeGrid,
)
from photoperiod.drive.light_path import LightPath
from photoperiod.formats.cautions import cautions_of
from photoperiod.formats.integrity import CHECKSUM_KEY, FileFault, version_fault
from photoperiod.formats.row_text import MADE_WITH, accepted, rounded, schedule_data
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program
from photoperiod.schedule.found_text import found_sentences
from photoperiod.sky.clock import ZONE_DATA, ClockKind
from photoperiod.source.json_schema import validate

#: The word in the key ``format`` of what tables are about.
FORMAT = "photoperiod-table"

VERSION = 1


@dataclass(frozen=True, slots=True)
class AcceptedFinding:
    """A hard finding that the schedule accepts: code, name, message, place, and why."""

    code: str
    name: str
    message: str
    path: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SafeState:
    """What an output gives in the safe state.

    Parameters
    ----------
    light_percent : float
        Light wanted. [% of full]
    count, converter_code : int
        The level and its code.
    relay : bool
        Whether the relay is closed.
    """

    light_percent: float
    count: int
    converter_code: int
    relay: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AboutChannel:
    """What a table file tells of a channel.

    ``full_ppfd`` maps zone ids to the PPFD of this channel alone at full [µmol m⁻² s⁻¹]. ``converter`` tells
    what codes give on its own output, where that was measured.
    """

    label: str
    ballast: BallastCurve
    ballast_count: int
    tubes: tuple[str, ...]
    full_ppfd: Mapping[str, float]
    safe_state: SafeState
    converter: Converter | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AboutController:
    """What a table file tells of the controller.

    ``full_code`` is the top permitted converter code; ``soft_start_minutes`` is what our own player
    takes from the floor to the top [min].
    """

    times: TimeGrid
    soft_start_minutes: int
    relay: RelayMode
    levels: LevelGrid
    converter: Converter
    full_code: int


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """All that a table file tells beside its rows.

    Parameters
    ----------
    made_with, zone_data : str
        Program and time zone data, with their versions.
    title, sha256 : str
        Title and digest of the schedule.
    clock : ClockKind
        What the controller's clock shows.
    dates : (date, date) or None
        First and last date; None if compiled without dates.
    time_zone : str or None
        The zone of the controller's clock; None on UTC, or if the schedule names no place.
    cautions : tuple of str
        For the people who load the table.
    accepted : tuple of AcceptedFinding
        Hard findings that the schedule accepts.
    controller : AboutController
        How the controller plays rows.
    channels : mapping of str to AboutChannel
        In the order of the schedule.
    parts, readings : mapping of str to str
        The file of parts and the files of readings that the schedule names, each with its digest.
    found : tuple of str
        What was found for the doses that zones ask for, in sentences; empty if none asks.
    """

    made_with: str
    zone_data: str
    title: str
    sha256: str
    clock: ClockKind
    dates: tuple[dt.date, dt.date] | None
    time_zone: str | None
    cautions: tuple[str, ...]
    accepted: tuple[AcceptedFinding, ...]
    controller: AboutController
    channels: Mapping[str, AboutChannel]
    parts: Mapping[str, str] = field(default_factory=dict)
    readings: Mapping[str, str] = field(default_factory=dict)
    found: tuple[str, ...] = ()

    def light_paths(self) -> dict[str, LightPath]:
        """Return the light path of every channel, from counts to light."""
        c = self.controller
        return {
            id: LightPath.shared(c.levels, c.converter, channel.ballast, c.relay, channel.converter)
            for id, channel in self.channels.items()
        }


def about_of(program: Program, findings: Sequence[Diagnostic]) -> About:
    """Return what a program's table files tell beside their rows."""
    schedule, span = program.schedule, program.span
    controller = schedule.controller
    has_zone = schedule.place is not None and controller.clock != "utc"
    return About(
        made_with=MADE_WITH,
        zone_data=ZONE_DATA,
        title=schedule.title,
        sha256=schedule.digest,
        parts=schedule.parts_digests,
        readings=schedule.readings_digests,
        found=tuple(found_sentences(schedule.found)) if schedule.found else (),
        clock=controller.clock,
        dates=None if span is None else (span.first, span.last),
        time_zone=schedule.place.time_zone if schedule.place is not None and has_zone else None,
        cautions=cautions_of(schedule),
        accepted=tuple(AcceptedFinding(**finding) for finding in accepted(findings)),
        controller=AboutController(
            times=controller.times,
            soft_start_minutes=controller.soft_start_minutes,
            relay=controller.relay,
            levels=controller.levels,
            converter=controller.converter,
            full_code=controller.converter.full_code,
        ),
        channels={id: _channel_of(c) for id, c in program.channels.items()},
    )


def _channel_of(c: ChannelDay) -> AboutChannel:
    light, count = c.channel.safe_light, c.safe_count
    return AboutChannel(
        label=c.channel.label,
        ballast=c.channel.ballast.curve,
        ballast_count=c.channel.ballast_count,
        tubes=tuple(tube.id for tube in c.channel.tubes),
        full_ppfd=c.channel.full_ppfd,
        converter=c.channel.converter,
        safe_state=SafeState(
            light_percent=rounded(light * 100, 4),
            count=count,
            converter_code=int(c.path.codes[count]),
            relay=not (light == 0 and c.path.ballast.dark != DarkKind.NEVER),
        ),
    )


# Plain data and back. Each pair of functions below names the same keys in the same order.


def about_data(about: About) -> dict[str, Any]:
    """Return what a table is about as plain data, as ``schemas/table.schema.json`` describes it."""
    first, last = about.dates or (None, None)
    found = {"found": list(about.found)} if about.found else {}
    return found | {
        "format": FORMAT,
        "version": VERSION,
        "made_with": about.made_with,
        "zone_data": about.zone_data,
        "schedule": schedule_data(about.title, about.sha256, about.parts, about.readings),
        "clock": about.clock,
        "from_date": date_text(first),
        "to_date": date_text(last),
        "time_zone": about.time_zone,
        "cautions": list(about.cautions),
        "accepted": [asdict(finding) for finding in about.accepted],
        "controller": _controller_data(about.controller),
        "channels": {id: _channel_data(channel) for id, channel in about.channels.items()},
    }


def about_of_data(data: Mapping[str, Any]) -> About:
    """Return what a table is about from plain data of the right shape."""
    dates = None
    if data["from_date"] is not None:
        dates = dt.date.fromisoformat(data["from_date"]), dt.date.fromisoformat(data["to_date"])
    return About(
        made_with=data["made_with"],
        zone_data=data["zone_data"],
        title=data["schedule"]["title"],
        sha256=data["schedule"]["sha256"],
        parts=data["schedule"].get("parts", {}),
        readings=data["schedule"].get("readings", {}),
        found=tuple(data.get("found", ())),
        clock=ClockKind(data["clock"]),
        dates=dates,
        time_zone=data["time_zone"],
        cautions=tuple(data["cautions"]),
        accepted=tuple(AcceptedFinding(**finding) for finding in data["accepted"]),
        controller=_controller_of_data(data["controller"]),
        channels={id: _channel_of_data(channel) for id, channel in data["channels"].items()},
    )


def _controller_data(controller: AboutController) -> dict[str, Any]:
    relay: dict[str, Any] = {"kind": controller.relay.kind}
    if controller.relay.kind == RelayKind.FOLLOWS_LEVEL:
        relay["on_level_percent"] = controller.relay.on_level_percent
    return {
        "time_step_seconds": controller.times.step_s,
        "between": controller.times.between,
        "after_last_row": controller.times.after_last_row,
        "soft_start_minutes": controller.soft_start_minutes,
        "relay": relay,
        "emits": {
            "unit": controller.levels.unit,
            "step": float(controller.levels.step),
            "every_seconds": controller.levels.every_seconds,
            "rounding": controller.levels.rounding,
        },
        "converter": _converter_data(controller.converter),
    }


def _converter_data(converter: Converter) -> dict[str, Any]:
    data: dict[str, Any] = {
        "kind": converter.kind,
        "bits": converter.bits,
        "offset_volts": converter.offset_volts,
        "volts_per_code": converter.volts_per_code,
        "most_volts": converter.most_volts,
        "full_code": converter.full_code,
    }
    if converter.points:
        data["points"] = [{"code": code, "volts": volts} for code, volts in converter.points]
    return data


def _converter_of_data(data: Mapping[str, Any]) -> Converter:
    return Converter(
        kind=ConverterKind(data["kind"]),
        bits=data["bits"],
        offset_volts=data["offset_volts"],
        volts_per_code=data["volts_per_code"],
        most_volts=data["most_volts"],
        points=tuple((point["code"], point["volts"]) for point in data.get("points", ())),
    )


def _controller_of_data(data: Mapping[str, Any]) -> AboutController:
    relay, emits, converter = data["relay"], data["emits"], data["converter"]
    return AboutController(
        times=TimeGrid(
            step_s=data["time_step_seconds"],
            between=Between(data["between"]),
            after_last_row=AfterLastRow(data["after_last_row"]),
        ),
        soft_start_minutes=data["soft_start_minutes"],
        relay=RelayMode(
            kind=RelayKind(relay["kind"]), on_level_percent=relay.get("on_level_percent", 0.0)
        ),
        levels=LevelGrid(
            unit=LevelUnit(emits["unit"]),
            step=Fraction(str(emits["step"])),
            every_seconds=emits["every_seconds"],
            rounding=Rounding(emits["rounding"]),
        ),
        converter=_converter_of_data(converter),
        full_code=converter["full_code"],
    )


def _channel_data(channel: AboutChannel) -> dict[str, Any]:
    safe, own = channel.safe_state, channel.converter
    return {
        "label": channel.label,
        "ballast": _ballast_data(channel.ballast),
        "ballast_count": channel.ballast_count,
        "tubes": list(channel.tubes),
        "full_ppfd": dict(channel.full_ppfd),
        "safe_state": {
            "light_percent": safe.light_percent,
            "count": safe.count,
            "converter_code": safe.converter_code,
            "relay": "on" if safe.relay else "off",
        },
    } | ({} if own is None else {"converter": _converter_data(own)})


def _channel_of_data(data: Mapping[str, Any]) -> AboutChannel:
    safe = data["safe_state"]
    return AboutChannel(
        label=data["label"],
        ballast=_ballast_of_data(data["ballast"]),
        ballast_count=data["ballast_count"],
        tubes=tuple(data["tubes"]),
        full_ppfd=data["full_ppfd"],
        converter=_converter_of_data(data["converter"]) if "converter" in data else None,
        safe_state=SafeState(
            light_percent=safe["light_percent"],
            count=safe["count"],
            converter_code=safe["converter_code"],
            relay=safe["relay"] != "off",
        ),
    )


def _ballast_data(curve: BallastCurve) -> dict[str, Any]:
    data: dict[str, Any] = {
        "response": curve.kind,
        "floor_volts": curve.floor_volts,
        "floor_light_percent": rounded(curve.floor_light * 100, 6),
        "full_volts": curve.full_volts,
        "dark": curve.dark,
    }
    if curve.dark == DarkKind.STANDBY:
        data["standby_below_volts"] = curve.standby_volts
        data["keeps_mains"] = curve.keeps_mains
    if curve.kind == ResponseKind.MEASURED:
        data["points"] = [
            {"volts": volts, "light_percent": rounded(light * 100, 6)}
            for volts, light in zip(curve.volts, curve.light, strict=True)
        ]
    return data


def _ballast_of_data(data: Mapping[str, Any]) -> BallastCurve:
    points = data.get("points", ())
    return BallastCurve(
        kind=ResponseKind(data["response"]),
        floor_volts=data["floor_volts"],
        floor_light=data["floor_light_percent"] / 100,
        full_volts=data["full_volts"],
        dark=DarkKind(data["dark"]),
        standby_volts=data.get("standby_below_volts", 0.0),
        keeps_mains=data.get("keeps_mains", False),
        volts=tuple(point["volts"] for point in points),
        light=tuple(point["light_percent"] / 100 for point in points),
    )


def date_text(date: dt.date | None) -> str | None:
    """Return a date as JSON has it."""
    return None if date is None else date.isoformat()


def date_of_text(text: str | None) -> dt.date | None:
    """Return a date from JSON or CSV, None if there is none."""
    return dt.date.fromisoformat(text) if text else None


def refuse_wrong_shape(data: Mapping[str, Any], *, with_rows: bool) -> None:
    """Raise if data have not the shape of a table, or, without rows, of what a table is about.

    Raises
    ------
    FileFault
        If they are of another version or shape.
    """
    if data.get("version") != VERSION:
        raise FileFault(version_fault(data.get("version"), VERSION))
    whole = {**data, CHECKSUM_KEY: "00000000"} | ({} if with_rows else {"tables": []})
    faults, _ = validate(whole, "table")
    for fault in faults:
        if with_rows or fault.path[:1] != ("tables",):
            raise FileFault(f"it has another shape than a table: {fault.message}")


def json_object(raw: bytes) -> dict[str, Any]:
    """Return the JSON object that some bytes hold.

    Raises
    ------
    FileFault
        If they hold none.
    """
    try:
        data = json.loads(raw)
    except ValueError as error:
        raise FileFault(f"it is not JSON: {error}") from error
    if not isinstance(data, dict):
        raise FileFault("it holds no table")
    return data
