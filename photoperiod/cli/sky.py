"""``photoperiod sky``: sun, moon and clocks as a schedule sees them."""

from __future__ import annotations

import datetime as dt

import click

from photoperiod.cli.loading import load_file, refused, span_of
from photoperiod.cli.options import colour_option, date_options, dates_of


@click.command("sky")
@click.argument("file")
@date_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "csv", "json"]),
    default="text",
    help="How to print it.",
)
@colour_option
def sky_command(
    file: str,
    one_date: dt.date | None,
    from_date: dt.date | None,
    to_date: dt.date | None,
    form: str,
    color: str,
) -> int:
    """Print what sun, moon and clocks do over dates, as the schedule FILE sees them."""
    dates = dates_of(one_date, from_date, to_date)
    if dates is None:
        raise click.UsageError("the sky is that of a date: give --date, or --from and --to")

    from photoperiod.api import ScheduleError

    try:
        schedule = load_file(file).schedule
    except ScheduleError as fault:
        return refused(fault, color)
    if schedule.place is None:
        raise click.UsageError(f"'{file}' has no place; write `place:` with latitude and longitude")

    from photoperiod.days.day_curves import DayCurves
    from photoperiod.report import sky as pages
    from photoperiod.sky.moon import FIRST_YEAR, LAST_YEAR

    if not FIRST_YEAR < dates[0].year <= dates[1].year < LAST_YEAR:
        raise click.UsageError(
            f"the sky is known from {FIRST_YEAR + 1} to {LAST_YEAR - 1}; choose other dates"
        )
    span = span_of(dates)
    assert span is not None
    days = DayCurves(schedule)
    found = pages.sky_dates(days, span)
    if form == "text":
        click.echo(pages.render_text(schedule.title, days, found), nl=False)
    elif form == "csv":
        click.echo(pages.render_csv(found), nl=False)
    else:
        click.echo(pages.render_json(days, found), nl=False)
    return 0
