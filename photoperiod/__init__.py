"""Photoperiod compiles one schedule file into the setpoint tables of a small light controller.

Every name is imported when it is first used, so that ``import photoperiod`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from photoperiod.api import (
        Compiled,
        Loaded,
        ScheduleError,
        compile,
        load,
        load_text,
        read_table,
        replay,
        write,
    )
    from photoperiod.dates import DateSpan
    from photoperiod.diagnostics.codes import Severity
    from photoperiod.diagnostics.model import Diagnostic, Report
    from photoperiod.errors import OutsideWorldError, PhotoperiodError, WrongUse
    from photoperiod.formats.table import PlayableTable
    from photoperiod.player.outputs import OutputState
    from photoperiod.program.channel_day import Amounts, ChannelDay, ZoneDay
    from photoperiod.program.model import Program, Table
    from photoperiod.schedule.model import Schedule

__all__ = [
    "Amounts",
    "ChannelDay",
    "Compiled",
    "DateSpan",
    "Diagnostic",
    "Loaded",
    "OutputState",
    "OutsideWorldError",
    "PhotoperiodError",
    "PlayableTable",
    "Program",
    "Report",
    "Schedule",
    "ScheduleError",
    "Severity",
    "Table",
    "WrongUse",
    "ZoneDay",
    "__version__",
    "compile",
    "load",
    "load_text",
    "read_table",
    "replay",
    "write",
]

#: The module of each public name, from the top of the package.
_HOMES = {
    "Amounts": "program.channel_day",
    "ChannelDay": "program.channel_day",
    "Compiled": "api",
    "DateSpan": "dates",
    "Diagnostic": "diagnostics.model",
    "Loaded": "api",
    "OutputState": "player.outputs",
    "OutsideWorldError": "errors",
    "PhotoperiodError": "errors",
    "PlayableTable": "formats.table",
    "Program": "program.model",
    "Report": "diagnostics.model",
    "Schedule": "schedule.model",
    "ScheduleError": "api",
    "Severity": "diagnostics.codes",
    "Table": "program.model",
    "WrongUse": "errors",
    "ZoneDay": "program.channel_day",
    "compile": "api",
    "load": "api",
    "load_text": "api",
    "read_table": "api",
    "replay": "api",
    "write": "api",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'photoperiod' has no attribute '{name}'")
    value = getattr(import_module(f"photoperiod.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
