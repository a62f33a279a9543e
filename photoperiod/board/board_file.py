"""The board file: YAML text → the settings of a board, or every fault in the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from photoperiod.board.config import (
    TOLERANCE_VOLTS,
    BoardConfig,
    BrokerConfig,
    HookConfig,
    OutputConfig,
    OutputKind,
    RelayConfig,
    RelayKind,
    SenseConfig,
    SenseKind,
    TrustPolicy,
)
from photoperiod.board.devices.lines import Bias, Drive
from photoperiod.board.table_check import table_findings
from photoperiod.diagnostics.model import Diagnostic, Related, Report
from photoperiod.diagnostics.model import Path as DataPath
from photoperiod.formats.table import PlayableTable
from photoperiod.schedule.cursor import Cursor
from photoperiod.sky.clock import zone_names
from photoperiod.source.document import Document, read_text
from photoperiod.source.json_schema import validate
from photoperiod.text import suggestion


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
        line=view.text("line"),
        chip=view.text("chip"),
        active_low=bool(view.get("active_low", False)),
        drive=Drive(view.text("drive", Drive.PUSH_PULL)),
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
        line=view.text("line"),
        chip=view.text("chip"),
        bias=Bias(view.text("bias", Bias.AS_IS)),
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
            yield from _second_use(_where(device), path, seen, "is that of '{id}'")
    for id, senses in config.senses.items():
        for sense in senses:
            path = ("channels", id, "sense", str(sense.kind))
            if sense.kind is SenseKind.CONTACT and bool(sense.file) == bool(sense.line):
                yield _no_source(path, sense)
            elif sense.line:
                where = "line", sense.line, sense.chip
                yield from _second_use(where, path, seen, "reads the line of the {part} of '{id}'")
    if config.time_zone is not None and config.time_zone not in zone_names():
        yield Diagnostic(
            code="PHO707",
            path=("time_zone",),
            message=f"there is no time zone '{config.time_zone}'",
            help=suggestion(config.time_zone, sorted(zone_names())),
        )


def _second_use(
    where: tuple[Any, ...] | None,
    path: DataPath,
    seen: dict[tuple[Any, ...], DataPath],
    words: str,
) -> Iterator[Diagnostic]:
    """Yield a finding if another part of the board uses the same device; ``words`` say what that means."""
    first = path if where is None else seen.setdefault(where, path)
    if first != path:
        yield Diagnostic(
            code="PHO703",
            path=path,
            on_key=True,
            message=f"the {path[-1]} of '{path[1]}' " + words.format(part=first[-1], id=first[1]),
            help="each channel needs one of its own",
            related=(Related(message="first here", path=first),),
        )


def _no_source(path: DataPath, sense: SenseConfig) -> Diagnostic:
    both = "has both a `line` and a `file`" if sense.line else "has neither a `line` nor a `file`"
    return Diagnostic(
        code="PHO709",
        path=path,
        on_key=True,
        message=f"the contact of '{path[1]}' {both}",
        help="name the GPIO line that reads it with `line`, or a file with 0 or 1 in it with `file`",
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
    relays = {
        RelayKind.LED: ("led", device.name),
        RelayKind.GPIO: ("line", device.line, device.chip),
    }
    return relays.get(device.kind)
