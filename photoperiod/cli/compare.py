"""``photoperiod compare``: a log of what happened compared with the table that was loaded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from photoperiod.cli.loading import EXIT_FINDINGS, read_file
from photoperiod.cli.options import Number
from photoperiod.cli.replay import clock_of, table_in
from photoperiod.errors import OutsideWorldError
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S

if TYPE_CHECKING:
    from photoperiod.compare.log_model import Quantity


class Column(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """An option that explains a column of the log: NAME=CHANNEL:UNIT."""

    name = "NAME=CHANNEL:UNIT"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, tuple[str, Quantity]]:
        """Return the column's name, the channel or zone, and the quantity."""
        from photoperiod.compare.log_model import Quantity

        name, _, meaning = str(value).rpartition("=")
        subject, _, quantity = meaning.partition(":")
        if not name or not subject or quantity not in list(Quantity):
            self.fail(
                f"'{value}' is not NAME=CHANNEL:UNIT with one of {', '.join(Quantity)}", param, ctx
            )
        return name, (subject, Quantity(quantity))


class RelayWord(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """An option that explains a word of a relay column: WORD=closed or WORD=open."""

    name = "WORD=STATE"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, bool]:
        """Return the word in lower case, and whether the relay is closed then."""
        word, _, state = str(value).rpartition("=")
        if not word.strip() or state.lower() not in ("closed", "open"):
            self.fail(f"'{value}' is not WORD=closed or WORD=open", param, ctx)
        return word.strip().lower(), state.lower() == "closed"


@click.command("compare")
@click.argument("table")
@click.argument("log")
@click.option(
    "--log-time-zone",
    metavar="ZONE",
    help="Time zone of log timestamps that have no UTC offset: utc, controller, or a zone such as"
    " Atlantic/Azores.",
)
@click.option(
    "--time-zone", metavar="ZONE", help="Time zone of the controller, if the table names none."
)
@click.option(
    "--column",
    "columns",
    type=Column(),
    multiple=True,
    help="Channel and unit of a column with another name, such as A0=blue:volts; can be repeated.",
)
@click.option(
    "--time-column",
    "time_columns",
    multiple=True,
    metavar="NAME",
    help="The column of times; given twice, those of date and time of day. Default: `time`, with"
    " `date` where it has no dates, or the only one that holds times.",
)
@click.option(
    "--dates",
    type=click.Choice(["day-month-year", "month-day-year", "year-month-day"]),
    help="The order of dates such as 03/04/2027.",
)
@click.option(
    "--decimal",
    type=click.Choice(["point", "comma"]),
    help="What stands before decimals, if the log does not show it.",
)
@click.option(
    "--relay-word",
    "relay_words",
    type=RelayWord(),
    multiple=True,
    help="What a word of a relay column means, such as HIGH=closed; can be repeated.",
)
@click.option(
    "--channel",
    "only",
    multiple=True,
    metavar="ID",
    help="A channel that must be in the log; can be repeated. Default: all channels.",
)
@click.option("--light-within-percent", type=Number(0, 100), default=2.0, show_default=True,
              help="Allowed deviation of light from the table. Unit: % of full.")  # fmt: skip
@click.option("--dose-within-percent", type=Number(0, 100), default=5.0, show_default=True,
              help="Allowed deviation of a dose from the table. Unit: %.")  # fmt: skip
@click.option("--within-seconds", type=Number(0, 3600), default=60.0, show_default=True,
              help="How early or late a record or the clock may be. Unit: s.")  # fmt: skip
@click.option("--gap-minutes", type=Number(0.1, 1440), default=10.0, show_default=True,
              help="A longer time without a record is a gap. Unit: min.")  # fmt: skip
@click.option("--dark-below-ppfd", type=Number(0, 100), default=NIGHT_PPFD_UMOL_M2_S, show_default=True,
              help="A zone with less light is dark. Unit: µmol/m²s.")  # fmt: skip
@click.option("--part-of-day", is_flag=True, help="The log need not be of whole days.")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", help="Output format."
)
def compare_command(
    table: str,
    log: str,
    log_time_zone: str | None,
    time_zone: str | None,
    columns: tuple[tuple[str, tuple[str, Quantity]], ...],
    time_columns: tuple[str, ...],
    dates: str | None,
    decimal: str | None,
    relay_words: tuple[tuple[str, bool], ...],
    only: tuple[str, ...],
    light_within_percent: float,
    dose_within_percent: float,
    within_seconds: float,
    gap_minutes: float,
    dark_below_ppfd: float,
    part_of_day: bool,
    form: str,
) -> int:
    """Compare LOG, a CSV file of what really happened, with TABLE.

    Exit code 1 means that something is not as planned, so that a nightly job can report it. LOG is a
    log of `run`, or any CSV file with a column of times and columns such as `blue_volts`, `blue_relay`
    or `crest_ppfd`.
    """
    if table == "-" and log == "-":
        raise click.UsageError("only one of TABLE and LOG can be standard input")
    held = table_in(table)

    from photoperiod.compare.comparison_text import render_json, render_text
    from photoperiod.compare.findings import compare_log
    from photoperiod.compare.log_model import DateOrder, DecimalMark, NoLogZone, Reading
    from photoperiod.compare.log_reader import log_clock, read_log
    from photoperiod.compare.model import Limits
    from photoperiod.formats.table import MAX_BYTES
    from photoperiod.player.outputs import zones
    from photoperiod.sky.clock import Clock

    for id in only:
        if id not in held.channels:
            from photoperiod.text import suggestion

            raise click.UsageError(f"there is no channel '{id}'; {suggestion(id, held.channels)}")
    name, raw = read_file(log, MAX_BYTES + 1, "check the name of the log")
    if len(raw) > MAX_BYTES:
        raise OutsideWorldError(
            "PHO511", f"'{name}' is larger than {MAX_BYTES:,} bytes", "split it"
        )
    clock: Clock | None = None
    asked: click.UsageError | None = None
    try:
        clock = clock_of(held, time_zone)
    except click.UsageError as error:
        asked = error  # told once the log is known to be one: with its zone, if it lacks that, too
    try:
        naive = log_clock(log_time_zone, clock or Clock.utc())
    except ValueError as error:
        raise click.UsageError(
            f"--log-time-zone: {error}; give utc, controller, or one such as Atlantic/Azores"
        ) from error
    reading = Reading(
        columns=dict(columns),
        time_columns=time_columns,
        clock=naive,
        dates=None if dates is None else DateOrder(dates),
        decimal=None if decimal is None else DecimalMark(decimal),
        relay_words=dict(relay_words),
    )
    try:
        read = read_log(name, raw, held.channels, zones(held), reading)
    except NoLogZone as missing:
        if asked is None:
            raise
        raise click.UsageError(
            f"{asked.message}. The log lacks one, too: {missing.request}"
        ) from missing
    if clock is None:
        assert asked is not None, "a clock is missing for a reason"
        raise asked
    limits = Limits(
        light=light_within_percent / 100,
        dose=dose_within_percent / 100,
        time_s=within_seconds,
        gap_s=gap_minutes * 60,
        dark_ppfd=dark_below_ppfd,
        is_part_of_day=part_of_day,
    )
    comparison = compare_log(held, read, clock, limits, only)
    render = render_json if form == "json" else render_text
    click.echo(render(held, comparison), nl=False)
    return EXIT_FINDINGS if any(finding.is_warning for finding in comparison.findings) else 0
