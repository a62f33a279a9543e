"""A table that stands for dates that want other light."""

from collections.abc import Iterator

from photoperiod.diagnostics import Diagnostic
from photoperiod.program import Program
from photoperiod.units import counted, number_text

CODE = "C426"
TITLE = "a table that stands for many dates gives about the light that each of them wants"
NEEDS_DATES = True
OF_ALL_TABLES = True

#: The errors from which it is reported where a number of tables was asked for [share]. Our choice.
WORTH_SHARE = 0.25


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table is far off on some date, by the worst."""
    wanted = program.schedule.seasons
    light_most = max(wanted.light_error, WORTH_SHARE if wanted.tables else 0.0)
    worst: dict[str, tuple[float, str, int]] = {}
    for table in program.tables:
        season = table.season
        if season is None or season.days == 1 or season.light <= light_most:
            continue
        if season.light > worst.get(season.light_of, (0.0, "", 0))[0]:
            worst[season.light_of] = season.light, str(season.first), season.days
    for id, (light, first, days) in worst.items():
        yield Diagnostic(
            code=CODE,
            path=program.schedule.channels[id].origin,
            on_key=True,
            message=f"the table of '{id}' from {first} stands for {counted(days, 'date')}, on some of which"
            f" it is off by {number_text(light * 100)} % of the channel's brightest light",
            help="more tables, or bounds instead of a number (`seasons: {light_error_percent: 5}`); a moon"
            " that is followed needs one a night",
        )
