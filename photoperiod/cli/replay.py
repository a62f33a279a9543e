"""``photoperiod replay``: what an exported table does, from the file alone."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import click

from photoperiod.cli.loading import read_file
from photoperiod.cli.options import Date, Number, check_years
from photoperiod.text import no_date_text

if TYPE_CHECKING:
    from photoperiod.formats.table import PlayableTable
    from photoperiod.sky.clock import Clock


#: What to try where a table is not there.
CHECK_NAME = "check the name; `photoperiod export` makes a table"


class Moment(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """A moment: a time of day, with or without a date, on the controller's clock, or in UTC with Z."""

    name = "MOMENT"

    def convert(self, value: Any, param: Any, ctx: Any) -> dt.datetime | dt.time:
        """Return a time, or a date and time, or fail with a usage error."""
        for read in (dt.time.fromisoformat, dt.datetime.fromisoformat):
            try:
                found = read(str(value))
            except ValueError:
                continue
            if isinstance(found, dt.datetime) and len(str(value)) <= 10:
                break
            if isinstance(found, dt.time) and found.tzinfo is not None:
                break
            return found.replace(microsecond=0)
        told, help = no_date_text(str(value))
        if help != no_date_text("")[1]:  # its form is right
            return self.fail(f"{told}; {help}", param, ctx)
        return self.fail(
            f"'{value}' is no moment; write 13:05, 2027-03-02T13:05 or 2027-03-02T14:05Z",
            param,
            ctx,
        )


def table_in(name: str) -> PlayableTable:
    """Return the table in a file ('-' is standard input)."""
    from photoperiod.formats.table import MAX_BYTES, read_table

    return read_table(*read_file(name, MAX_BYTES + 1, CHECK_NAME))


def clock_of(table: PlayableTable, time_zone: str | None) -> Clock:
    """Return the controller's clock, or say how to name its zone."""
    try:
        return table.clock(time_zone)
    except ValueError as error:
        raise click.UsageError(
            f"{error}; say it with --time-zone, such as --time-zone Atlantic/Azores, or write `place`"
            " into the schedule and export the table again"
        ) from error


@click.command("replay")
@click.argument("table")
@click.option("--at", type=Moment(), help="A moment, such as 13:05 or 2027-03-02T13:05.")
@click.option("--date", type=Date(), help="A whole day.")
@click.option(
    "--every",
    "every_minutes",
    type=Number(min=1 / 60, max=1440),
    metavar="MINUTES",
    help="Minutes from one line of a day to the next; 30 unless told.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "csv", "json"]),
    default="text",
    help="How to print it.",
)
@click.option("--time-zone", metavar="ZONE", help="The controller's zone, if the table names none.")
@click.option("--no-clock", is_flag=True, help="With --at: the clock can't be trusted.")
@click.option("--stopped", is_flag=True, help="With --at: a person has stopped the lamps.")
@click.option(
    "--since-start",
    "since_start_s",
    type=click.IntRange(min=0),
    metavar="SECONDS",
    help="With --at: seconds since the lamps came back, to see the soft start.",
)
def replay_command(
    table: str,
    at: dt.datetime | dt.time | None,
    date: dt.date | None,
    every_minutes: float | None,
    form: str,
    time_zone: str | None,
    no_clock: bool,
    stopped: bool,
    since_start_s: int | None,
) -> int:
    """Print what TABLE does: light, level, volts, code and relay, as the controller's player has it.

    TABLE is a `table.json`, or what `export` wrote as json, csv or binary. Times are those of the
    controller's clock.
    """
    if at is not None:
        _refuse_with_moment(at, date, every_minutes, form)
    elif no_clock or stopped or since_start_s is not None:
        raise click.UsageError("--no-clock, --stopped and --since-start are for a moment: add --at")
    for moment in (at, date):
        if isinstance(moment, dt.date):
            check_years(moment)
    held = table_in(table)

    from photoperiod.player import replay_text as pages
    from photoperiod.player.outputs import PlayerInput
    from photoperiod.text import json_text

    if at is None:
        day = _date(held, date, None)
        every_s, clock = round((every_minutes or 30) * 60), _known_clock(held, time_zone)
        if form == "text":
            click.echo(pages.day_text(held, day, every_s, clock), nl=False)
        elif form == "csv":
            click.echo(pages.day_csv(held, day, every_s), nl=False)
        else:
            click.echo(json_text(pages.day_data(held, day, every_s, clock)), nl=False)
        return 0
    day, second = moment_of(held, at, date, time_zone)
    if date is not None or isinstance(at, dt.datetime):
        _refuse_what_no_clock_shows(held, day, second, time_zone)
    told = PlayerInput(clock_valid=not no_clock, stopped=stopped, since_start_s=since_start_s)
    if form == "text":
        click.echo(pages.moment_text(held, day, second, told), nl=False)
    else:
        click.echo(json_text(pages.moment_data(held, day, second, told)), nl=False)
    return 0


def _refuse_with_moment(
    at: dt.datetime | dt.time, date: dt.date | None, every_minutes: float | None, form: str
) -> None:
    """Refuse options that do not go with a moment."""
    if every_minutes is not None:
        raise click.UsageError("--every divides a day; --at is a moment")
    if date is not None and isinstance(at, dt.datetime):
        raise click.UsageError("--at names a date already; leave out --date, or give --at as 13:05")
    if form == "csv":
        raise click.UsageError("CSV is for a whole day; print a moment as text or json")


def _date(table: PlayableTable, date: dt.date | None, at: dt.time | None) -> dt.date:
    """Return the date that is meant: the one given, or the only one there is; or say how to give it."""
    from photoperiod.formats.image import FIRST_DAY, date_of

    if date is not None:
        return date
    if table.image.span is None:
        return FIRST_DAY
    if len(table.image.tables) == 1:
        return date_of(table.image.span[0])
    first, last = (date_of(day) for day in table.image.span)
    way_out = f"--date {first}"
    if at is not None:
        way_out = f"--at {first}T{at.isoformat('seconds' if at.second else 'minutes')}"
    raise click.UsageError(
        f"there are {len(table.image.tables)} tables, for {first} to {last}: say on which date, such as"
        f" {way_out}"
    )


def _known_clock(table: PlayableTable, time_zone: str | None) -> Clock | None:
    """Return the controller's clock; None where no zone says when it changes."""
    try:
        return table.clock(time_zone)
    except ValueError:
        return None


def _refuse_what_no_clock_shows(
    table: PlayableTable, day: dt.date, second: int, time_zone: str | None
) -> None:
    """Refuse a time that the controller's clock leaves out, as far as the zone of its clock is known."""
    from photoperiod.text import clock_text
    from photoperiod.units import SECONDS_PER_DAY

    clock = _known_clock(table, time_zone)
    if clock is None:
        return
    instant = clock.unix_of(day, second)
    if clock.wall_of(instant) == (day, second):
        return
    changes = clock.changes(instant - SECONDS_PER_DAY, instant + SECONDS_PER_DAY)
    gap = next(change for change in changes if change.after_s > change.before_s)
    before, after = (
        clock_text((gap.at_unix_s + offset_s) % SECONDS_PER_DAY)
        for offset_s in (gap.before_s, gap.after_s)
    )
    raise click.UsageError(
        f"{clock_text(second)} on {day} does not exist: the controller's clock goes forward from"
        f" {before} to {after} then"
    )


def moment_of(
    table: PlayableTable, at: dt.datetime | dt.time, date: dt.date | None, time_zone: str | None
) -> tuple[dt.date, int]:
    """Return date and second on the controller's clock; a time of day is that of the date."""
    if isinstance(at, dt.time):
        return _date(table, date, at), (at.hour * 60 + at.minute) * 60 + at.second
    if at.tzinfo is None:
        return at.date(), (at.hour * 60 + at.minute) * 60 + at.second
    return clock_of(table, time_zone).wall_of(int(at.timestamp()))
