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
        render_page,
        replay,
        write,
    )
    from photoperiod.curves.shapes import Shape
    from photoperiod.diagnostics.codes import Severity
    from photoperiod.diagnostics.model import Diagnostic, Report
    from photoperiod.drive.ballast import BallastCurve, BelowFloor, DarkKind, ResponseKind
    from photoperiod.drive.converter import Converter, ConverterKind
    from photoperiod.drive.depreciation import Depreciation, DepreciationKind
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
    from photoperiod.errors import OutsideWorldError, PhotoperiodError, WrongUse
    from photoperiod.formats.table import PlayableTable
    from photoperiod.player.outputs import OutputState
    from photoperiod.program.channel_day import Amounts, ChannelDay, ZoneDay
    from photoperiod.program.dates import DateSpan
    from photoperiod.program.model import Program, Table
    from photoperiod.program.seasons_ahead import Helpers
    from photoperiod.readings.extent import Box, PointList, Statistic
    from photoperiod.schedule.changes import (
        Acclimation,
        BallastThen,
        Course,
        DarkDays,
        MovedHours,
        OtherDay,
        PartOut,
        PlannedDay,
    )
    from photoperiod.schedule.costs import Costs, Labour, PricedHours, Tariff
    from photoperiod.schedule.day_plan import (
        ClockTime,
        Dawn,
        Dusk,
        Event,
        Moonlight,
        MoonlightKind,
        Peak,
        PeakOf,
        Point,
        Points,
        Ramps,
        SunDay,
    )
    from photoperiod.schedule.model import (
        Acceptance,
        Ballast,
        BurnInPolicy,
        Channel,
        Controller,
        DatedTables,
        FromReadings,
        LoadedBy,
        PpfdSpread,
        Schedule,
        Watts,
        Zone,
    )
    from photoperiod.schedule.site import BorrowedSky, Place
    from photoperiod.sky.clock import ClockKind
    from photoperiod.sky.kinds import SunEvent, SunModel

__all__ = [
    "Acceptance",
    "Acclimation",
    "AfterLastRow",
    "Amounts",
    "Ballast",
    "BallastCurve",
    "BallastThen",
    "BelowFloor",
    "Between",
    "BorrowedSky",
    "Box",
    "BurnInPolicy",
    "Channel",
    "ChannelDay",
    "ClockKind",
    "ClockTime",
    "Compiled",
    "Controller",
    "Converter",
    "ConverterKind",
    "Costs",
    "Course",
    "DarkDays",
    "DarkKind",
    "DateSpan",
    "DatedTables",
    "Dawn",
    "Depreciation",
    "DepreciationKind",
    "Diagnostic",
    "Dusk",
    "Event",
    "FromReadings",
    "Helpers",
    "Labour",
    "LevelGrid",
    "LevelUnit",
    "Loaded",
    "LoadedBy",
    "Moonlight",
    "MoonlightKind",
    "MovedHours",
    "OtherDay",
    "OutputState",
    "OutsideWorldError",
    "PartOut",
    "Peak",
    "PeakOf",
    "PhotoperiodError",
    "Place",
    "PlannedDay",
    "PlayableTable",
    "Point",
    "PointList",
    "Points",
    "PpfdSpread",
    "PricedHours",
    "Program",
    "Ramps",
    "RelayKind",
    "RelayMode",
    "Report",
    "ResponseKind",
    "Rounding",
    "Schedule",
    "ScheduleError",
    "Severity",
    "Shape",
    "Statistic",
    "SunDay",
    "SunEvent",
    "SunModel",
    "Table",
    "Tariff",
    "TimeGrid",
    "Tube",
    "Watts",
    "WrongUse",
    "Zone",
    "ZoneDay",
    "__version__",
    "compile",
    "load",
    "load_text",
    "read_table",
    "render_page",
    "replay",
    "write",
]

#: The module of each public name, from the top of the package.
_HOMES = {
    "Acceptance": "schedule.model",
    "Acclimation": "schedule.changes",
    "AfterLastRow": "drive.grid",
    "Amounts": "program.channel_day",
    "Ballast": "schedule.model",
    "BallastCurve": "drive.ballast",
    "BallastThen": "schedule.changes",
    "BelowFloor": "drive.ballast",
    "Between": "drive.grid",
    "BorrowedSky": "schedule.site",
    "Box": "readings.extent",
    "BurnInPolicy": "schedule.model",
    "Channel": "schedule.model",
    "ChannelDay": "program.channel_day",
    "ClockKind": "sky.clock",
    "ClockTime": "schedule.day_plan",
    "Compiled": "api",
    "Controller": "schedule.model",
    "Converter": "drive.converter",
    "ConverterKind": "drive.converter",
    "Costs": "schedule.costs",
    "Course": "schedule.changes",
    "DarkDays": "schedule.changes",
    "DarkKind": "drive.ballast",
    "DateSpan": "program.dates",
    "DatedTables": "schedule.model",
    "Dawn": "schedule.day_plan",
    "Depreciation": "drive.depreciation",
    "DepreciationKind": "drive.depreciation",
    "Diagnostic": "diagnostics.model",
    "Dusk": "schedule.day_plan",
    "Event": "schedule.day_plan",
    "FromReadings": "schedule.model",
    "Helpers": "program.seasons_ahead",
    "Labour": "schedule.costs",
    "LevelGrid": "drive.grid",
    "LevelUnit": "drive.grid",
    "Loaded": "api",
    "LoadedBy": "schedule.model",
    "Moonlight": "schedule.day_plan",
    "MoonlightKind": "schedule.day_plan",
    "MovedHours": "schedule.changes",
    "OtherDay": "schedule.changes",
    "OutputState": "player.outputs",
    "OutsideWorldError": "errors",
    "PartOut": "schedule.changes",
    "Peak": "schedule.day_plan",
    "PeakOf": "schedule.day_plan",
    "PhotoperiodError": "errors",
    "Place": "schedule.site",
    "PlannedDay": "schedule.changes",
    "PlayableTable": "formats.table",
    "Point": "schedule.day_plan",
    "PointList": "readings.extent",
    "Points": "schedule.day_plan",
    "PpfdSpread": "schedule.model",
    "PricedHours": "schedule.costs",
    "Program": "program.model",
    "Ramps": "schedule.day_plan",
    "RelayKind": "drive.grid",
    "RelayMode": "drive.grid",
    "Report": "diagnostics.model",
    "ResponseKind": "drive.ballast",
    "Rounding": "drive.grid",
    "Schedule": "schedule.model",
    "ScheduleError": "api",
    "Severity": "diagnostics.codes",
    "Shape": "curves.shapes",
    "Statistic": "readings.extent",
    "SunDay": "schedule.day_plan",
    "SunEvent": "sky.kinds",
    "SunModel": "sky.kinds",
    "Table": "program.model",
    "TimeGrid": "drive.grid",
    "Tariff": "schedule.costs",
    "Tube": "schedule.tube",
    "Watts": "schedule.model",
    "WrongUse": "errors",
    "Zone": "schedule.model",
    "ZoneDay": "program.channel_day",
    "compile": "api",
    "load": "api",
    "load_text": "api",
    "read_table": "api",
    "render_page": "api",
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
