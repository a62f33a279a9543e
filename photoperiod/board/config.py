"""The board file: YAML text → which output and relay each channel goes to, or every reason why not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from photoperiod.diagnostics.model import Diagnostic, Related, Report
from photoperiod.diagnostics.model import Path as DataPath
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import PlayableTable
from photoperiod.schedule.cursor import Cursor
from photoperiod.sky.clock import Clock, zone_names
from photoperiod.source.document import Document, read_text
from photoperiod.source.json_schema import validate
from photoperiod.text import suggestion

#: Outputs whose receiver is told of the relay too, and may switch it itself.
TELLS_RELAY = ("stdout", "mqtt")


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputPlan:
    """What sets a channel's level; which fields count follows from ``kind``."""

    kind: str
    device: str = ""
    chip: int = 0
    channel: int = 0
    gain: float | None = None
    period_ns: int = 0
    polarity: str | None = None
    topic: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayPlan:
    """What makes a channel dark; which fields count follows from ``kind``."""

    kind: str
    name: str = ""
    number: int = 0
    active_low: bool = False
    topic: str = ""
    closed: str = "on"
    open: str = "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokerPlan:
    """An MQTT broker."""

    host: str
    topic: str
    port: int = 1883
    username: str | None = None
    password_file: Path | None = None
    ca_file: Path | None = None
    table_topic: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A board file that was read.

    Parameters
    ----------
    name : str
        What it is called in messages.
    state_folder, log_folder, sysfs : Path
        Where things lie.
    log_every_s : int
        A record for every channel at least this often. [s]
    trust : str
        ``auto``, ``synchronised`` or ``later``; see `photoperiod.board.clock_trust`.
    time_zone : str or None
        Stands in where the table names none.
    channels : mapping of id to (OutputPlan, RelayPlan)
        In the order of the file.
    """

    name: str
    state_folder: Path
    log_folder: Path
    sysfs: Path
    channels: Mapping[str, tuple[OutputPlan, RelayPlan]]
    log_every_s: int = 60
    trust: str = "auto"
    time_zone: str | None = None
    broker: BrokerPlan | None = None


@dataclass(slots=True)
class BoardFile:
    """How far a board file came: its text, what was found, and the board if there is one."""

    document: Document
    report: Report
    board: Board | None = None

    def hold_against(self, table: PlayableTable) -> None:
        """Add what does not fit between board and table; with an error there is no board any more."""
        if self.board is not None:
            self.report.add(unfit(self.board, table), self.document)
            if self.report.has_errors:
                self.board = None


def read_board(name: str, raw: bytes) -> BoardFile:
    """Return the board that a file describes; whatever is wrong with it stands in the report."""
    source = read_text(name, raw)
    found = BoardFile(source, Report(name))
    found.report.add(source.diagnostics)
    if source.data is None:
        return found
    faults, bad = validate(source.data, "board")
    found.report.add((d for d in faults if d.path not in source.bad), source)
    if found.report.has_errors:
        return found
    board = _board(name, Cursor(source.data, (), frozenset(bad | source.bad)))
    found.report.add(_meaning(board), source)
    if not found.report.has_errors:
        found.board = board
    return found


def _board(name: str, view: Cursor) -> Board:
    beside = Path(name).absolute().parent
    broker = None
    if view.has("broker"):
        broker = _broker(view.child("broker"), beside)
    prefix = broker.topic if broker else ""
    return Board(
        name=name,
        state_folder=beside / view.text("state_folder"),
        log_folder=beside / view.child("log").text("folder"),
        log_every_s=view.child("log").integer("every_seconds", 60),
        sysfs=beside / view.text("sysfs", "/sys"),
        trust=view.child_or_empty("clock").text("trust", "auto"),
        time_zone=view.get("time_zone"),
        broker=broker,
        channels={
            id: (
                _output(channel.child("output"), f"{prefix}/{id}/level"),
                _relay(channel.child("relay"), f"{prefix}/{id}/relay"),
            )
            for id, channel in view.child("channels").items()
        },
    )


def _broker(view: Cursor, beside: Path) -> BrokerPlan:
    files = {
        key: beside / view.text(key) if view.has(key) else None
        for key in ("password_file", "ca_file")
    }
    return BrokerPlan(
        host=view.text("host"),
        topic=view.text("topic").rstrip("/"),
        port=view.integer("port", 1883),
        username=view.get("username"),
        table_topic=view.get("table_topic"),
        **files,
    )


def _output(view: Cursor, topic: str) -> OutputPlan:
    return OutputPlan(
        kind=view.text("kind"),
        device=view.text("device"),
        chip=view.integer("chip"),
        channel=view.integer("channel"),
        gain=view.optional_number("gain"),
        period_ns=view.integer("period_ns"),
        polarity=view.get("polarity"),
        topic=view.text("topic", topic),
    )


def _relay(view: Cursor, topic: str) -> RelayPlan:
    return RelayPlan(
        kind=view.text("kind"),
        name=view.text("name"),
        number=view.integer("number"),
        active_low=bool(view.get("active_low", False)),
        topic=view.text("topic", topic),
        closed=view.text("closed", "on"),
        open=view.text("open", "off"),
    )


def _meaning(board: Board) -> Iterator[Diagnostic]:
    """Yield what is wrong with a board whose shape is right."""
    seen: dict[tuple[Any, ...], DataPath] = {}
    for id, (output, relay) in board.channels.items():
        for part, plan in (("output", output), ("relay", relay)):
            path: DataPath = ("channels", id, part)
            if plan.kind == "mqtt" and board.broker is None:
                yield Diagnostic(
                    code="PHO704",
                    path=(*path, "kind"),
                    message=f"the {part} of '{id}' goes to a broker, and there is none",
                    help="write `broker:` with its host and a topic",
                )
                continue
            where = _where(plan)
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
    if board.time_zone is not None and board.time_zone not in zone_names():
        yield Diagnostic(
            code="PHO707",
            path=("time_zone",),
            message=f"there is no time zone '{board.time_zone}'",
            help=suggestion(board.time_zone, sorted(zone_names())),
        )


def _where(plan: OutputPlan | RelayPlan) -> tuple[Any, ...] | None:
    """Return what tells an output or relay from all others, None if there may be many."""
    if plan.kind == "mqtt":
        return "mqtt", plan.topic
    if isinstance(plan, OutputPlan):
        places = {
            "iio": ("iio", plan.device, plan.channel),
            "pwm": ("pwm", plan.chip, plan.channel),
        }
        return places.get(plan.kind)
    return {"led": ("led", plan.name), "gpio": ("gpio", plan.number)}.get(plan.kind)


def unfit(board: Board, table: PlayableTable) -> Iterator[Diagnostic]:
    """Yield what does not fit between a board and a table."""
    for id in table.channels:
        if id not in board.channels:
            yield Diagnostic(
                code="PHO701",
                path=("channels",),
                on_key=True,
                message=f"the table has a channel '{id}', and there is no output for it",
                help=f"add '{id}' with its output and relay",
            )
    for id in board.channels:
        if id not in table.channels:
            yield Diagnostic(
                code="PHO702",
                path=("channels", id),
                on_key=True,
                message=f"the table has no channel '{id}'",
                help=suggestion(id, table.channels),
            )
    for id, path in table.paths.items():
        output, relay = board.channels.get(id, (None, None))
        if output is None or relay is None or relay.kind != "none":
            continue
        if (path.dark_by_row or path.is_switched_by_level) and output.kind not in TELLS_RELAY:
            yield Diagnostic(
                code="PHO705",
                path=("channels", id, "relay"),
                message=f"the table makes '{id}' dark by its relay, and there is none:"
                " at night it burns at its floor",
                help="wire a relay and name it here",
            )
    if board.time_zone is None and table.about["clock"] != "utc" and not table.about["time_zone"]:
        yield Diagnostic(
            code="PHO706",
            message=f"the table is on {table.about['clock']} time of a zone that it does not name",
            help="write `time_zone:`, such as Atlantic/Azores",
        )


def clock_of(board: Board, table: PlayableTable) -> Clock:
    """Return the controller's clock of a table that fits the board.

    Raises
    ------
    OutsideWorldError
        PHO506 if the table does not fit.
    """
    for fault in unfit(board, table):
        if fault.code != "PHO705":
            raise OutsideWorldError(
                "PHO506",
                f"the table does not fit '{board.name}': {fault.message}",
                "correct the board file and start the player again, or make another table",
            )
    try:
        return table.clock(board.time_zone)
    except ValueError as error:
        raise OutsideWorldError(
            "PHO506",
            f"the table does not fit this machine: {error}",
            "bring its zone data up to date",
        ) from error
