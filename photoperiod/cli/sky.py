"""``photoperiod sky``: sun, moon and clocks as a schedule sees them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import load_file, refused
from photoperiod.cli.options import colour_option, date_options

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan


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
    span: DateSpan | None,
    form: str,
    color: str,
) -> int:
    """Print what sun, moon and clocks do over dates, as the schedule FILE sees them."""
    if span is None:
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

    if not FIRST_YEAR < span.first.year <= span.last.year < LAST_YEAR:
        raise click.UsageError(
            f"the sky is known from {FIRST_YEAR + 1} to {LAST_YEAR - 1}; choose other dates"
        )
    days = DayCurves(schedule)
    found = pages.sky_dates(days, span)
    if form == "text":
        click.echo(pages.render_text(schedule.title, days, found), nl=False)
    elif form == "csv":
        click.echo(pages.render_csv(found), nl=False)
    else:
        click.echo(pages.render_json(days, found), nl=False)
    return 0
