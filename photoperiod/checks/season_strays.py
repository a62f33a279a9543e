"""A table that stands for dates that want other light."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.day_types import ChannelSeason
from photoperiod.program.model import Program
from photoperiod.text import counted, number_text

CODE = "PHO426"
TITLE = "a table that stands for many dates gives about the light that each of them wants"
NEEDS_DATES = True
OF_ALL_TABLES = True

#: The errors from which it is reported where a number of tables was asked for [share]. Our choice.
WORTH_SHARE = 0.25


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table is far off on some date, by the worst."""
    wanted = program.schedule.seasons
    least = WORTH_SHARE if wanted.tables else 0.0
    light_most, dose_most = max(wanted.light_error, least), max(wanted.dose_error, least)
    worst: dict[str, ChannelSeason] = {}
    for table in program.tables:
        for id, season in table.season.channels.items() if table.season else ():
            if season.days == 1 or season.error.keeps(light_most, dose_most):
                continue
            if id not in worst or _share(season) > _share(worst[id]):
                worst[id] = season
    for id, season in worst.items():
        yield Diagnostic(
            code=CODE,
            path=program.schedule.channels[id].origin,
            on_key=True,
            message=f"the table of '{id}' from {season.first} stands for {counted(season.days, 'date')}, on"
            f" some of which its light is off by {number_text(season.error.light * 100)} % of the"
            f" channel's brightest, or its dose by {number_text(season.error.dose * 100)} %",
            help="more tables, or bounds instead of a number (`seasons: {light_error_percent: 5}`); a moon"
            " that is followed needs one a night",
        )


def _share(season: ChannelSeason) -> float:
    return max(season.error.light, season.error.dose)
