"""How a player begins: board file, lock, table, devices, and what of them is missing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TextIO

from photoperiod.board.channel_output import Line
from photoperiod.board.config import Board, BoardFile
from photoperiod.board.mqtt import Broker, PahoBroker
from photoperiod.board.outputs import IioOutput, LinesOutput, MqttOutput, PwmOutput
from photoperiod.board.outputs import Output as OutputDevice
from photoperiod.board.player import Player
from photoperiod.board.relays import GpioRelay, LedRelay, MqttRelay, NoRelay, Relay
from photoperiod.board.state_store import StateStore
from photoperiod.board.sysfs import DeviceFault, DeviceMismatch, Files, Sysfs
from photoperiod.board.system import World
from photoperiod.board.table_file import Loaded, TableFile, load
from photoperiod.errors import OutsideWorldError

Say = Callable[[str], None]


def output_device(
    board: Board, id: str, files: Files, stream: TextIO, broker: Broker | None
) -> OutputDevice:
    """Return the output of a channel."""
    plan, _ = board.channels[id]
    if plan.kind == "iio":
        return IioOutput(plan, files)
    if plan.kind == "pwm":
        return PwmOutput(plan, files)
    if plan.kind == "mqtt" and broker is not None:
        return MqttOutput(plan, broker)
    return LinesOutput(stream)


def relay_device(board: Board, id: str, files: Files, broker: Broker | None) -> Relay:
    """Return the relay of a channel."""
    _, plan = board.channels[id]
    if plan.kind == "led":
        return LedRelay(plan, files)
    if plan.kind == "gpio":
        return GpioRelay(plan, files)
    if plan.kind == "mqtt" and broker is not None:
        return MqttRelay(plan, broker)
    return NoRelay()


def first_table(
    found: BoardFile, board: Board, file: TableFile, keep: StateStore, say: Say
) -> tuple[Loaded | None, OutsideWorldError | None]:
    """Return the table to begin with, and why it is the copy of the last good one, if it is.

    None if the table does not fit the board; the report says where.

    Raises
    ------
    OutsideWorldError
        If there is no table that can be played. Relays are opened first: nothing says what light
        would be right.
    """
    try:
        loaded = file.load(board)
        found.hold_against(loaded.table)
        return loaded, None
    except OutsideWorldError as error:
        refused = error
    try:
        return load(keep.good_table, board), refused
    except OutsideWorldError:
        pass
    files = Sysfs(board.sysfs)
    for id, (_, relay) in board.channels.items():
        if relay.kind in ("led", "gpio"):
            try:
                device = relay_device(board, id, files, None)
                device.open()
                device.set(False)
            except (DeviceFault, OSError) as error:
                say(f"can't open the relay of '{id}': {error}")
    if refused.code == "PHO506":
        found.hold_against(file.read())
        return None, refused
    raise refused


def player(
    *,
    board: Board,
    file: TableFile,
    loaded: Loaded,
    refused: OutsideWorldError | None,
    keep: StateStore,
    world: World,
    stream: TextIO,
    say: Say,
    files: Files | None = None,
    broker: Broker | None = None,
) -> Player:
    """Return a player that has begun: its devices are ready, and nothing has changed yet.

    Raises
    ------
    OutsideWorldError
        PHO507 if a device is not what it should be; PHO508 if a broker can't be used. A device that is
        not there is an alarm instead: it may come later, and relays must open at night without it.
    """
    if files is None:
        files = Sysfs(board.sysfs)
    if broker is None and board.broker is not None:
        broker = PahoBroker(board.broker)
    lines = {
        id: Line(
            id,
            output_device(board, id, files, stream, broker),
            relay_device(board, id, files, broker),
            path,
        )
        for id, path in loaded.table.paths.items()
    }
    made = Player(
        board=board,
        file=file,
        loaded=loaded,
        keep=keep,
        world=world,
        lines=lines,
        broker=broker,
        say=say,
        refused=refused,
    )
    try:
        made.begin()
    except DeviceMismatch as error:
        mismatch = OutsideWorldError(
            "PHO507", str(error), f"correct '{board.name}', or the schedule's converter"
        )
        try:
            good = load(keep.good_table, board)
        except OutsideWorldError:
            raise mismatch from error
        if good.raw == loaded.raw:
            raise mismatch from error
    else:
        return made
    return player(
        board=board,
        file=file,
        loaded=good,
        refused=mismatch,
        keep=keep,
        world=world,
        stream=stream,
        say=say,
        files=files,
        broker=broker,
    )
