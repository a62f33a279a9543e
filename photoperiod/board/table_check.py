"""Whether a board and a table fit each other: channels, relays, converters, and the clock."""

from __future__ import annotations

from collections.abc import Iterator

from photoperiod.board.config import (
    CARRIES_RELAY,
    SCALE_SLACK_VOLTS,
    BoardConfig,
    OutputConfig,
    RelayKind,
)
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.converter import Converter
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import PlayableTable
from photoperiod.sky.clock import Clock, ClockKind
from photoperiod.text import suggestion


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
