"""Options that several commands share, and the values they stand for."""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Callable
from typing import Any, TypeVar

import click

from photoperiod.program.dates import DateSpan
from photoperiod.text import no_date_text, number_text

F = TypeVar("F", bound=Callable[..., Any])

#: Dates outside these years are slips of the pen.
FIRST_YEAR, LAST_YEAR = 1901, 2178


class Date(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """A calendar date, YYYY-MM-DD."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: Any, ctx: Any) -> dt.date:
        """Return the date, or fail with a usage error."""
        if isinstance(value, dt.date):
            return value
        try:
            if len(value) != 10:
                raise ValueError
            return dt.date.fromisoformat(value)
        except ValueError:
            self.fail("; ".join(no_date_text(str(value))), param, ctx)


class Number(click.FloatRange):
    """A number within a range; what is no number is not in any."""

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """Return the number, or fail with a usage error."""
        found = float(super().convert(value, param, ctx))
        if math.isnan(found):
            self.fail(f"{value!r} is not a number", param, ctx)
        return found

    def _describe_range(self) -> str:  # click shows it in help and in errors
        """Return the range in few digits: 1/60 has no end."""
        if self.min is None or self.max is None:
            return super()._describe_range()
        return f"{number_text(self.min, 4)} to {number_text(self.max, 4)}"


class WholeNumber(click.IntRange):
    """A whole number within a range."""

    name = "whole number"

    def convert(self, value: Any, param: Any, ctx: Any) -> int:
        """Return the number, or fail with a usage error."""
        try:
            number = int(value)
        except ValueError:
            self.fail(
                f"'{value}' is not a whole number; write it in digits, such as 4096", param, ctx
            )
        if self.min is not None and number < self.min:
            self.fail(f"{number} is too small; the least is {self.min:g}", param, ctx)
        if self.max is not None and number > self.max:
            self.fail(f"{number} is too large; the most is {self.max:g}", param, ctx)
        return int(super().convert(value, param, ctx))


def date_options(command: Callable[..., int]) -> Callable[..., int]:
    """Add ``--date``, ``--from`` and ``--to``; the command gets them as one ``span``, None without."""

    @functools.wraps(command)
    def with_span(
        one_date: dt.date | None, from_date: dt.date | None, to_date: dt.date | None, **others: Any
    ) -> int:
        return command(span=span_of(one_date, from_date, to_date), **others)

    made = click.option("--to", "to_date", type=Date(), help="Last date of a span.")(with_span)
    made = click.option("--from", "from_date", type=Date(), help="First date.")(made)
    return click.option("--date", "one_date", type=Date(), help="A single date.")(made)


def ledger_option(command: F) -> F:
    """Add ``--ledger``."""
    return click.option(
        "--ledger",
        metavar="FILE",
        help="What tubes had burned and owed before the dates; compile brings it up to date.",
    )(command)


def colour_option(command: F) -> F:
    """Add ``--color``."""
    return click.option(
        "--color",
        type=click.Choice(["auto", "always", "never"]),
        default="auto",
        help="Colour; auto looks at NO_COLOR, FORCE_COLOR and the terminal.",
    )(command)


def detail_option(command: F) -> F:
    """Add ``--detail``."""
    return click.option(
        "--detail",
        is_flag=True,
        help="Add what is proven of the rows, worst errors, doses by channel, checks that did not run.",
    )(command)


def jobs_option(command: F) -> F:
    """Add ``--jobs`` to a command that works on several files, or on the many dates of one."""
    return _jobs("on several FILEs or on the many dates of one")(command)


def jobs_of_files_option(command: F) -> F:
    """Add ``--jobs`` to a command that works on several files."""
    return _jobs("on several FILEs")(command)


def _jobs(on: str) -> Callable[[F], F]:
    return click.option(
        "--jobs",
        type=WholeNumber(min=1),
        metavar="N",
        help=f"How many processes work at a time, {on}; as many as there are cores, if not told.",
    )


#: How long to go on without any worker of a cluster, if not told [s].
CLUSTER_WAIT_S = 60.0


def cluster_options(command: F) -> F:
    """Add ``--cluster`` and ``--cluster-wait``."""
    made = click.option(
        "--cluster-wait",
        type=click.FloatRange(min=1, max=86_400),
        default=CLUSTER_WAIT_S,
        show_default=True,
        metavar="SECONDS",
        help="How long to go on when no worker of the cluster is left.",
    )(command)
    return click.option(
        "--cluster",
        metavar="ADDRESS",
        help="Let workers of a dask.distributed scheduler compile, such as tcp://192.0.2.7:8786; this side"
        " reads and writes.",
    )(made)


def span_of(
    one_date: dt.date | None, from_date: dt.date | None, to_date: dt.date | None
) -> DateSpan | None:
    """Return the dates that the options name, None without; wrong ones are wrong use."""
    if one_date and (from_date or to_date):
        raise click.UsageError("--date stands alone; for a span use --from and --to")
    first, last = (one_date, one_date) if one_date else (from_date, to_date)
    if first is None and last is None:
        return None
    if first is None or last is None:
        raise click.UsageError("--from and --to go together")
    try:
        span = DateSpan(first, last)
    except ValueError as error:
        way_out = "; did you exchange --from and --to?" if first > last else ""
        raise click.UsageError(f"{error}{way_out}") from None
    check_years(first, last)
    return span


def check_years(*dates: dt.date) -> None:
    """Raise a usage error for dates that are slips of the pen."""
    for date in dates:
        if not FIRST_YEAR <= date.year <= LAST_YEAR:
            raise click.UsageError(f"{date} is not from {FIRST_YEAR} to {LAST_YEAR}")
