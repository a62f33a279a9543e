"""A table is used for dates whose plans differ much from it."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.day_types import ChannelSeason
from photoperiod.program.model import Program
from photoperiod.schedule.model import Channel, DatedTables
from photoperiod.text import and_list, counted, number_text

#: Larger errors are reported where the schedule gives a number of tables [share]. Our choice.
WORTH_SHARE = 0.25


def season_strays(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table is far off on some date, for its worst table."""
    bounds = {
        id: _bounds(program.schedule.dated_tables.of(channel))
        for id, channel in program.schedule.channels.items()
    }
    far: dict[str, list[ChannelSeason]] = {}
    for table in program.tables:
        for id, season in table.season.channels.items() if table.season else ():
            if season.days == 1 or season.error.keeps(*bounds[id]):
                continue
            far.setdefault(id, []).append(season)
    for id, seasons in far.items():
        season, channel = max(seasons, key=_share), program.schedule.channels[id]
        also = [str(first) for first in sorted({each.first for each in seasons} - {season.first})]
        yield on_key(
            "PHO426",
            channel.path,
            f"the table of '{id}' from {season.first} stands for {counted(season.days, 'date')}, on"
            f" some of which its light is off by {number_text(season.error.light * 100)} % of the"
            f" channel's brightest, or its dose by {number_text(season.error.dose * 100)} %;"
            f" not kept: {_not_kept(season, *bounds[id])}, {_whose(program, channel)}"
            f"{others(also, 'in')}",
            help="allow more tables, or bounds instead of a number (`dated_tables:"
            " {light_error_percent: 5}`); a channel that follows the moon needs one table a night",
        )


def _bounds(wanted: DatedTables) -> tuple[float, float]:
    """Return the errors of light and dose that are not reported. [share]"""
    least = WORTH_SHARE if wanted.tables else 0.0
    return max(wanted.light_error, least), max(wanted.dose_error, least)


def _not_kept(season: ChannelSeason, light: float, dose: float) -> str:
    """Return in words which of two bounds a table does not keep. [share]"""
    errors = (season.error.light, light, "light"), (season.error.dose, dose, "dose")
    return and_list([f"{number_text(b * 100)} % of {what}" for off, b, what in errors if off > b])


def _whose(program: Program, channel: Channel) -> str:
    """Return in words where the bounds of a channel come from."""
    is_number = program.schedule.dated_tables.of(channel).tables is not None
    return "the bound beside a number of tables" if is_number else "as asked"


def _share(season: ChannelSeason) -> float:
    return max(season.error.light, season.error.dose)
