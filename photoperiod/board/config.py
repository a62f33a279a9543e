"""The board file: YAML text → the output and relay of each channel, or every fault in the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from photoperiod.diagnostics.model import Diagnostic, Related, Report
from photoperiod.diagnostics.model import Path as DataPath
from photoperiod.drive.converter import Converter
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import PlayableTable
from photoperiod.schedule.cursor import Cursor
from photoperiod.sky.clock import Clock, ClockKind, zone_names
from photoperiod.source.document import Document, read_text
from photoperiod.source.json_schema import validate
from photoperiod.text import suggestion

#: Largest difference between two statements on the volts of a converter at its top [V]. Our choice:
#: references and resistors are off by one or two per cent, a wrong gain by far more.
SCALE_SLACK_VOLTS = 0.3


class OutputKind(StrEnum):
    """What sets a level; see `photoperiod.board.devices`."""

    IIO = "iio"
    PWM = "pwm"
    MQTT = "mqtt"
    STDOUT = "stdout"


class RelayKind(StrEnum):
    """What switches the mains of a lamp; see `photoperiod.board.devices`."""

    LED = "led"
    GPIO = "gpio"
    MQTT = "mqtt"
    NONE = "none"


class TrustPolicy(StrEnum):
    """What the player asks before it trusts the clock; see `photoperiod.board.clock_trust`."""

    AUTO = "auto"
    SYNCHRONISED = "synchronised"
    LATER = "later"


#: Outputs whose receiver also learns the state of the relay, and may switch it itself.
CARRIES_RELAY = (OutputKind.STDOUT, OutputKind.MQTT)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputConfig:
    """What sets the level of a channel; ``kind`` decides which other fields count."""

    kind: OutputKind
    device: str = ""
    chip: int = 0
    channel: int = 0
    gain: float | None = None
    period_ns: int = 0
    polarity: str | None = None
    topic: str = ""
    bits: int | None = None
    full_scale_volts: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayConfig:
    """What makes a channel dark; ``kind`` decides which other fields count."""

    kind: RelayKind
    name: str = ""
    number: int = 0
    active_low: bool = False
    topic: str = ""
    closed: str = "on"
    open: str = "off"


#: How far measured volts may be from those that are put out, unless the board file says it. [V]
TOLERANCE_VOLTS = 0.5


class SenseKind(StrEnum):
    """What measures whether a lamp burns; see `photoperiod.board.sensors`."""

    CONTACT = "contact"
    VOLTS = "volts"
    LIGHT = "light"


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseConfig:
    """What measures a lamp; ``kind`` decides which of the other fields count."""

    kind: SenseKind
    file: str
    closed: int = 1
    volts_per_unit: float = 0.0
    tolerance_volts: float = TOLERANCE_VOLTS
    lit_above: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokerConfig:
    """An MQTT broker.

    Parameters
    ----------
    host, port, username, password_file, ca_file
        How to reach it.
    topic : str
        The beginning of the player's own topics.
    table_topic : str or None
        Where tables arrive.
    expire_s : int
        How long it keeps what is published, unless that is renewed. [s]
    """

    host: str
    topic: str
    port: int = 1883
    username: str | None = None
    password_file: Path | None = None
    ca_file: Path | None = None
    table_topic: str | None = None
    expire_s: int = 900


@dataclass(frozen=True, slots=True)
class HookConfig:
    """A command that is run for each alarm, and how long it may take. [s]"""

    command: tuple[str, ...]
    limit_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardConfig:
    """The settings in a board file.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    state_folder, runtime_folder, log_folder, sysfs : Path
        Folders; the second one serves while the first can't be written.
    log_every_s : int
        The log gets a record of every channel at least this often. [s]
    trust : TrustPolicy
        What the player asks before it trusts the clock.
    time_zone : str or None
        The zone of the controller's clock, used if the table names none.
    channels : mapping of id to (OutputConfig, RelayConfig)
        Those that the file names, in its order.
    senses : mapping of id to tuple of SenseConfig
        What measures the lamp of a channel; channels without are left out.
    others_print : bool
        Channels that the file does not name print lines of text; otherwise each must be named.
    metrics_file : Path or None
        Where metrics go, if anywhere.
    alarm_hook : HookConfig or None
        What is run for each alarm.
    broker : BrokerConfig or None
        Present if an output or relay needs one.
    """

    name: str
    state_folder: Path
    runtime_folder: Path
    log_folder: Path
    sysfs: Path
    channels: Mapping[str, tuple[OutputConfig, RelayConfig]]
    senses: Mapping[str, tuple[SenseConfig, ...]] = field(default_factory=dict)
    others_print: bool = False
    log_every_s: int = 60
    trust: TrustPolicy = TrustPolicy.AUTO
    time_zone: str | None = None
    metrics_file: Path | None = None
    alarm_hook: HookConfig | None = None
    broker: BrokerConfig | None = None

    def devices(self, id: str) -> tuple[OutputConfig, RelayConfig] | None:
        """Return output and relay of a channel; None if the file has none for it."""
        printed = OutputConfig(kind=OutputKind.STDOUT), RelayConfig(kind=RelayKind.NONE)
        return self.channels.get(id, printed if self.others_print else None)


@dataclass(slots=True)
class BoardFile:
    """A board file: its text, its findings, and its settings; None if there is a hard finding."""

    document: Document
    report: Report
    config: BoardConfig | None = None

    def check_table(self, table: PlayableTable) -> None:
        """Add findings where board and table do not fit; a hard one makes ``config`` None."""
        if self.config is not None:
            self.report.add(table_findings(self.config, table), self.document)
            if self.report.has_errors:
                self.config = None


def read_board(name: str, raw: bytes) -> BoardFile:
    """Return the settings in a board file; every fault is a finding in the report."""
    source = read_text(name, raw)
    file = BoardFile(source, Report(name))
    file.report.add(source.diagnostics)
    if source.data is None:
        return file
    faults, bad = validate(source.data, "board")
    file.report.add((d for d in faults if d.path not in source.bad), source)
    if file.report.has_errors:
        return file
    config = _board(name, Cursor(source.data, (), frozenset(bad | source.bad)))
    file.report.add(_contradictions(config), source)
    if not file.report.has_errors:
        file.config = config
    return file


def _board(name: str, view: Cursor) -> BoardConfig:
    beside = Path(name).absolute().parent
    broker = None
    if view.has("broker"):
        broker = _broker(view.child("broker"), beside)
    prefix = broker.topic if broker else ""
    return BoardConfig(
        name=name,
        state_folder=beside / view.text("state_folder"),
        runtime_folder=beside / view.text("runtime_folder", "/run/photoperiod"),
        log_folder=beside / view.child("log").text("folder"),
        log_every_s=view.child("log").integer("every_seconds", 60),
        sysfs=beside / view.text("sysfs", "/sys"),
        trust=TrustPolicy(view.child_or_empty("clock").text("trust", TrustPolicy.AUTO)),
        time_zone=view.get("time_zone"),
        metrics_file=beside / view.text("metrics_file") if view.has("metrics_file") else None,
        alarm_hook=_hook(view.child("alarm_hook")) if view.has("alarm_hook") else None,
        broker=broker,
        channels={
            id: (
                _output(channel.child("output"), f"{prefix}/{id}/level"),
                _relay(channel.child("relay"), f"{prefix}/{id}/relay"),
            )
            for id, channel in view.child_or_empty("channels").items()
        },
        senses={
            id: tuple(_sense(SenseKind(kind), one) for kind, one in channel.child("sense").items())
            for id, channel in view.child_or_empty("channels").items()
            if channel.has("sense")
        },
        others_print=view.has("other_channels"),
    )


def _broker(view: Cursor, beside: Path) -> BrokerConfig:
    files = {
        key: beside / view.text(key) if view.has(key) else None
        for key in ("password_file", "ca_file")
    }
    return BrokerConfig(
        host=view.text("host"),
        topic=view.text("topic").rstrip("/"),
        port=view.integer("port", 1883),
        username=view.get("username"),
        table_topic=view.get("table_topic"),
        expire_s=view.integer("expire_minutes", 15) * 60,
        **files,
    )


def _output(view: Cursor, topic: str) -> OutputConfig:
    return OutputConfig(
        kind=OutputKind(view.text("kind")),
        device=view.text("device"),
        chip=view.integer("chip"),
        channel=view.integer("channel"),
        gain=view.optional_number("gain"),
        period_ns=view.integer("period_ns"),
        polarity=view.get("polarity"),
        bits=view.integer("bits") if view.has("bits") else None,
        full_scale_volts=view.optional_number("full_scale_volts"),
        topic=view.text("topic", topic),
    )


def _relay(view: Cursor, topic: str) -> RelayConfig:
    return RelayConfig(
        kind=RelayKind(view.text("kind")),
        name=view.text("name"),
        number=view.integer("number"),
        active_low=bool(view.get("active_low", False)),
        topic=view.text("topic", topic),
        closed=view.text("closed", "on"),
        open=view.text("open", "off"),
    )


def _hook(view: Cursor) -> HookConfig:
    return HookConfig(tuple(map(str, view.get("command"))), view.integer("timeout_seconds", 20))


def _sense(kind: SenseKind, view: Cursor) -> SenseConfig:
    return SenseConfig(
        kind=kind,
        file=view.text("file"),
        closed=view.integer("closed", 1),
        volts_per_unit=view.optional_number("volts_per_unit") or 0.0,
        tolerance_volts=view.optional_number("tolerance_volts") or TOLERANCE_VOLTS,
        lit_above=view.optional_number("lit_above") or 0.0,
    )


def _contradictions(config: BoardConfig) -> Iterator[Diagnostic]:
    """Yield the faults of a board file that satisfies the schema."""
    seen: dict[tuple[Any, ...], DataPath] = {}
    for id, (output, relay) in config.channels.items():
        for part, device in (("output", output), ("relay", relay)):
            path: DataPath = ("channels", id, part)
            if device.kind in (OutputKind.MQTT, RelayKind.MQTT) and config.broker is None:
                yield Diagnostic(
                    code="PHO704",
                    path=(*path, "kind"),
                    message=f"the {part} of '{id}' goes to a broker, and there is none",
                    help="write `broker:` with its host and a topic",
                )
                continue
            where = _where(device)
            if where is None:
                continue
            first = seen.setdefault(where, path)
            if first != path:
                yield Diagnostic(
                    code="PHO703",
                    path=path,
                    on_key=True,
                    message=f"the {part} of '{id}' is that of '{first[1]}'",
                    help="each channel needs one of its own",
                    related=(Related(message="first here", path=first),),
                )
    if config.time_zone is not None and config.time_zone not in zone_names():
        yield Diagnostic(
            code="PHO707",
            path=("time_zone",),
            message=f"there is no time zone '{config.time_zone}'",
            help=suggestion(config.time_zone, sorted(zone_names())),
        )


def _where(device: OutputConfig | RelayConfig) -> tuple[Any, ...] | None:
    """Return what only one channel may use; None if several may use it."""
    if device.kind in (OutputKind.MQTT, RelayKind.MQTT):
        return "mqtt", device.topic
    if isinstance(device, OutputConfig):
        outputs = {
            OutputKind.IIO: ("iio", device.device, device.channel),
            OutputKind.PWM: ("pwm", device.chip, device.channel),
        }
        return outputs.get(device.kind)
    relays = {RelayKind.LED: ("led", device.name), RelayKind.GPIO: ("gpio", device.number)}
    return relays.get(device.kind)


def table_findings(config: BoardConfig, table: PlayableTable) -> Iterator[Diagnostic]:
    """Yield findings where a board and a table do not fit each other."""
    for id in table.channels:
        if config.devices(id) is None:
            yield Diagnostic(
                code="PHO701",
                path=("channels",),
                on_key=True,
                message=f"the table has a channel '{id}', and there is no output for it",
                help=f"add '{id}' with its output and relay",
            )
    for id in config.channels:
        if id not in table.channels:
            yield Diagnostic(
                code="PHO702",
                path=("channels", id),
                on_key=True,
                message=f"the table has no channel '{id}'",
                help=suggestion(id, table.channels),
            )
    for id, path in table.paths.items():
        output, relay = config.devices(id) or (None, None)
        if output is not None:
            yield from _other_converter(id, output, path.converter)
        if output is None or relay is None or relay.kind is not RelayKind.NONE:
            continue
        if (path.dark_by_row or path.is_switched_by_level) and output.kind not in CARRIES_RELAY:
            yield Diagnostic(
                code="PHO705",
                path=("channels", id, "relay"),
                message=_without_relay(id, path),
                help="wire a relay and name it here",
            )
    if (
        config.time_zone is None
        and table.about.clock != ClockKind.UTC
        and not table.about.time_zone
    ):
        yield Diagnostic(
            code="PHO706",
            message=f"the table is in {table.about.clock} time, but does not say in which time zone the"
            " tank stands",
            help="write `time_zone:`, such as Atlantic/Azores",
        )


def _other_converter(id: str, output: OutputConfig, converter: Converter) -> Iterator[Diagnostic]:
    """Yield findings where a table is for another converter than the board file says."""
    volts = converter.offset_volts + converter.volts_per_code * 2**converter.bits
    for key, told, found, is_off in (
        ("bits", output.bits, converter.bits, output.bits != converter.bits),
        (
            "full_scale_volts",
            output.full_scale_volts,
            round(volts, 3),
            abs(volts - (output.full_scale_volts or 0.0)) > SCALE_SLACK_VOLTS,
        ),
    ):
        if told is not None and is_off:
            yield Diagnostic(
                code="PHO708",
                path=("channels", id, "output", key),
                message=f"the table is for another converter of '{id}': {key} {found}, here {told}",
                help="correct the board file, or the schedule's converter and compile again",
            )


def clock_of(config: BoardConfig, table: PlayableTable) -> Clock:
    """Return the controller's clock for a table that fits the board.

    Raises
    ------
    OutsideWorldError
        PHO506 if the table does not fit.
    """
    for finding in table_findings(config, table):
        if finding.code != "PHO705":  # a warning: it can be played
            raise OutsideWorldError(
                "PHO506",
                f"the table does not fit '{config.name}': {finding.message}",
                "correct the board file and start the player again, or make another table",
            )
    try:
        return table.clock(config.time_zone)
    except ValueError as error:
        raise OutsideWorldError(
            "PHO506",
            f"the table does not fit this machine: {error}",
            "bring its zone data up to date",
        ) from error


def _without_relay(id: str, path: LightPath) -> str:
    """Return in words what it means that a channel has no relay although its table switches one."""
    if path.dark_by_row and path.dark_by_level:
        return (
            f"the table opens the relay of '{id}' in the dark, and there is none: an output that fails"
            " open lights the lamp at full"
        )
    return f"the table makes '{id}' dark by its relay, and there is none: at night it burns at its floor"
