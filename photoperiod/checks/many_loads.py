"""More tables than the controller holds at once, or than a person types in a month."""

from collections import Counter
from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.model import LoadedBy
from photoperiod.text import and_list, counted

#: So many tables are typed in by hand within a month [1]. Our choice, no source: a table of two channels
#: with twelve rows each is a quarter of an hour, and a slip in one row may light a night.
MOST_TYPED = 4

#: So many dates of loads are named; of more, only how many there are in the fullest month.
MOST_NAMED = 4


def many_loads(program: Program) -> Iterator[Diagnostic]:
    """Yield one finding if the tables do not fit the controller at once, or its keeper's month."""
    controller, loads = program.schedule.controller, program.loads
    dates = [load[0].span.first for load in loads if load[0].span]
    if not dates:  # a day without a date is loaded once
        return
    by_month: Counter[str] = Counter()
    for date, load in zip(dates, loads, strict=True):
        by_month[f"{date:%Y-%m}"] += len(load)
    month, most = by_month.most_common(1)[0]
    tables = counted(len(program.controller_tables), "table")
    said = []
    if len(loads) > 1:
        when = f"on {and_list([str(date) for date in dates])}"
        if len(dates) > MOST_NAMED:
            busiest, number = Counter(f"{date:%Y-%m}" for date in dates).most_common(1)[0]
            when = f"{'all' if number == len(dates) else f'{number} of them'} in {busiest}"
        said.append(
            f"{tables}, and the controller holds {controller.tables} at once: {len(loads)} loads, {when}"
        )
    is_told = len(loads) > 1 and controller.tables == 1  # each load is a table
    if controller.loaded_by is LoadedBy.HAND and most > MOST_TYPED and not is_told:
        said.append(f"{counted(most, 'table')} to type in by hand in {month}")
    if said:
        yield on_key("PHO432", controller.path, "; ".join(said), help=_ways_out(program))


def _ways_out(program: Program) -> str:
    """Return what makes loads fewer, or typing needless."""
    schedule, ways = program.schedule, []
    if schedule.follows_sky:
        asked = schedule.dated_tables
        is_number = asked.tables is not None
        if is_number or (asked.moon is not None and asked.moon.tables is not None):
            ways.append("ask for fewer tables than `dated_tables` does now")
        else:
            ways.append(
                "ask for fewer tables: `dated_tables` with larger errors, or a number (`{tables: 12}`)"
            )
        has_moon = any(channel.follows_moon for channel in schedule.channels.values())
        if has_moon and asked.moon is None and not is_number:
            ways.append(
                "ask for the sun and the moon apart (`dated_tables: {sun: {tables: 12}, moon: {tables: 24}}`)"
            )
    if any(table.plan.windows for table in program.tables):
        ways.append("burn tubes in elsewhere and enter `lit_hours`")
    from photoperiod.upkeep.policies import fitted_together  # of dates only, and seldom

    span = program.span
    if span is not None and fitted_together(schedule, span.first, span.last) is not None:
        ways.append(
            "fit tubes of near dates on one date, so that they burn in together (`photoperiod tubes`"
            " tells what that saves)"
        )
    if schedule.controller.loaded_by is LoadedBy.HAND:
        ways.append("let the controller read a file (`export csv`, with `loaded_by: file`)")
    ways.append("play the tables on a board of your own (`export c`, `export micropython`, `run`)")
    return "; or ".join(ways)
