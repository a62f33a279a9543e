"""All that a player works with besides its table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TextIO

from photoperiod.board.alarm_hook import AlarmHook
from photoperiod.board.config import BoardConfig
from photoperiod.board.devices.sysfs import Writers
from photoperiod.board.mqtt import Broker
from photoperiod.board.state_store import StateStore
from photoperiod.board.system import System
from photoperiod.board.table_file import TableFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """All that a player works with besides its table.

    Parameters
    ----------
    config : BoardConfig
        The board.
    file : TableFile
        Where newer tables come from.
    store : StateStore
        The player's own folder, locked.
    system : System
        Time and signals.
    writers : Writers
        Gives each device the files through which it is set.
    stream : TextIO or None
        Where outputs of kind ``stdout`` write.
    broker : Broker or None
        None if the board file names none, or until `start_player` connects to it.
    say : callable
        Shows people one line of text.
    hook : AlarmHook or None
        What is run for each alarm.
    """

    config: BoardConfig
    file: TableFile
    store: StateStore
    system: System
    writers: Writers
    stream: TextIO | None
    broker: Broker | None
    say: Callable[[str], None]
    hook: AlarmHook | None = None
