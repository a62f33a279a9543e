"""``photoperiod compare``: a log of what happened against what the table would have done."""

from __future__ import annotations

from typing import Any

import click

from photoperiod.cli.loading import EXIT_FINDINGS, read_file
from photoperiod.cli.options import Number
from photoperiod.cli.replay import clock_of, table_in
from photoperiod.errors import OutsideWorldError


class Column(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """What a column of the log holds: NAME=channel:unit."""

    name = "NAME=CHANNEL:UNIT"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, tuple[str, str]]:
        """Return the column's name, the channel or zone, and the quantity."""
        from photoperiod.compare.log_reader import MOST

        name, _, meant = str(value).rpartition("=")
        subject, _, quantity = meant.partition(":")
        if not name or not subject or quantity not in MOST:
            self.fail(
                f"'{value}' is not NAME=CHANNEL:UNIT with one of {', '.join(MOST)}", param, ctx
            )
        return name, (subject, quantity)


@click.command("compare")
@click.argument("table")
@click.argument("log")
@click.option(
    "--log-time-zone",
    metavar="ZONE",
    help="Whose times those of the log are, if they do not say: utc, controller, or a zone such as"
    " Atlantic/Azores.",
)
@click.option("--time-zone", metavar="ZONE", help="The controller's zone, if the table names none.")
@click.option(
    "--column",
    "columns",
    type=Column(),
    multiple=True,
    help="What a column of the log holds, such as A0=blue:volts; may be given again.",
)
@click.option(
    "--channel",
    "only",
    multiple=True,
    metavar="ID",
    help="A channel that the log is to tell of; may be given again. All of them unless told.",
)
@click.option("--light-within-percent", type=Number(0, 100), default=2.0, show_default=True,
              help="Light that far from the table is still right. Unit: % of full.")  # fmt: skip
@click.option("--dose-within-percent", type=Number(0, 100), default=5.0, show_default=True,
              help="A dose that far from the table's is still right. Unit: %.")  # fmt: skip
@click.option("--within-seconds", type=Number(0, 3600), default=60.0, show_default=True,
              help="How early or late a record, or the clock, may be. Unit: s.")  # fmt: skip
@click.option("--gap-minutes", type=Number(0.1, 1440), default=10.0, show_default=True,
              help="Longer without a record is a gap. Unit: min.")  # fmt: skip
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to print it."
)
def compare_command(
    table: str,
    log: str,
    log_time_zone: str | None,
    time_zone: str | None,
    columns: tuple[tuple[str, tuple[str, str]], ...],
    only: tuple[str, ...],
    light_within_percent: float,
    dose_within_percent: float,
    within_seconds: float,
    gap_minutes: float,
    form: str,
) -> int:
    """Hold LOG, a CSV of what really happened, against what TABLE would have done.

    Exit code 1 if anything is not as planned, so that a nightly job can tell. The log is that of
    `run`, or any CSV with a column `time` and columns such as `blue_volts`, `blue_relay` or
    `crest_ppfd`.
    """
    if table == "-" and log == "-":
        raise click.UsageError("only one of TABLE and LOG can be standard input")
    held = table_in(table)

    from photoperiod.compare.comparison_text import render_json, render_text
    from photoperiod.compare.findings import Limits, judge
    from photoperiod.compare.log_reader import log_clock, read_log
    from photoperiod.formats.table import MAX_BYTES
    from photoperiod.player.outputs import zones

    for id in only:
        if id not in held.channels:
            from photoperiod.text import suggestion

            raise click.UsageError(f"there is no channel '{id}'; {suggestion(id, held.channels)}")
    clock = clock_of(held, time_zone)
    try:
        naive = log_clock(log_time_zone, clock)
    except ValueError as error:
        raise click.UsageError(
            f"--log-time-zone: {error}; give utc, controller, or one such as Atlantic/Azores"
        ) from error
    name, raw = read_file(log, MAX_BYTES + 1, "check the name of the log")
    if len(raw) > MAX_BYTES:
        raise OutsideWorldError(
            "PHO511", f"'{name}' is larger than {MAX_BYTES:,} bytes", "split it"
        )
    read = read_log(name, raw, held.channels, zones(held), dict(columns), naive)
    limits = Limits(
        light=light_within_percent / 100,
        dose=dose_within_percent / 100,
        time_s=within_seconds,
        gap_s=gap_minutes * 60,
    )
    verdict = judge(held, read, clock, limits, only)
    render = render_json if form == "json" else render_text
    click.echo(render(held, verdict), nl=False)
    return EXIT_FINDINGS if any(finding.is_warning for finding in verdict.findings) else 0
