"""The commands. Heavy imports stand inside them, so that ``--help`` answers at once."""

from __future__ import annotations

import datetime as dt
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from photoperiod import __version__
from photoperiod.cli.common import (
    EXIT_FINDINGS,
    ask_for_dates,
    colour_option,
    compile_file,
    date_options,
    dates_of,
    exit_code,
    ledger_option,
    print_report,
    read_file,
    span_of,
)
from photoperiod.cli.compare import compare
from photoperiod.cli.export import export
from photoperiod.cli.publish import publish
from photoperiod.cli.replay import replay
from photoperiod.cli.run import hold, release, run
from photoperiod.errors import OutsideWorldError, WrongUse, os_reason

if TYPE_CHECKING:
    from photoperiod.schedule.starter import Question

F = TypeVar("F", bound=Callable[..., Any])


@click.group(
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Exit codes: 0 fine, 1 findings, 2 wrong use, 3 a bug of ours, 4 a file or disk said no,"
    " 130 interrupted.",
)
@click.version_option(__version__, prog_name="photoperiod")
def cli() -> None:
    """Compile a light schedule for a reef tank into the table of its controller.

    A schedule is one YAML file. `new` writes a first one, `check` finds every fault in it, and
    `compile` writes the table to load with the dose of light that this very table gives.
    """


@cli.command()
@click.argument("file")
@date_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "sarif"]),
    default="text",
    help="How to print what was found.",
)
@click.option("--strict", is_flag=True, help="Warnings fail too (exit code 1).")
@ledger_option
@click.option("--all", "show_all", is_flag=True, help="Show more than fifty diagnostics.")
@colour_option
def check(
    file: str,
    one_date: dt.date | None,
    from_date: dt.date | None,
    to_date: dt.date | None,
    form: str,
    strict: bool,
    show_all: bool,
    color: str,
    ledger: str | None,
) -> int:
    """Find every fault in FILE ('-' is standard input)."""
    outcome, _ = compile_file(file, dates_of(one_date, from_date, to_date), ledger)
    if form == "text":
        print_report(outcome, sys.stdout, color, show_all)
    else:
        from photoperiod.report.machine import render_json, render_sarif

        render = render_json if form == "json" else render_sarif
        click.echo(render(outcome.report), nl=False)
    return exit_code(outcome, strict)


@cli.command("compile")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@date_options
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="DIR",
    help="Folder to write; one that compile wrote before is replaced as a whole. With several FILEs"
    " it holds a folder for each.",
)
@click.option("--strict", is_flag=True, help="Write nothing if there are warnings.")
@ledger_option
@colour_option
def compile_(
    files: tuple[str, ...],
    one_date: dt.date | None,
    from_date: dt.date | None,
    to_date: dt.date | None,
    output: str,
    strict: bool,
    color: str,
    ledger: str | None,
) -> int:
    """Compile FILE into a folder: table, doses, typing sheet.

    With dates, burn-in is planned and tube hours are followed over them; one file --ledger carries
    them from span to span. Nothing is written if the schedule has an error, or breaks a hard limit
    that it does not accept by name. Several FILEs are compiled on all cores.
    """
    if output in ("", "-"):
        raise click.UsageError("-o names a folder; the table alone is DIR/table.csv")
    dates = dates_of(one_date, from_date, to_date)
    if len(files) == 1:
        return _compile_to(files[0], dates, output, strict, color, ledger)
    if ledger is not None:
        raise click.UsageError("--ledger is that of one tank: compile one FILE at a time")

    from photoperiod.cli.parallel import make_folder, on_all_cores, targets_of

    targets = targets_of(files, output, "")
    make_folder(output)
    return on_all_cores(
        _compile_to,
        [
            (file, dates, target, strict, color, None)
            for file, target in zip(files, targets, strict=True)
        ],
    )


def _compile_to(
    file: str,
    dates: tuple[dt.date, dt.date] | None,
    output: str,
    strict: bool,
    color: str,
    ledger: str | None,
) -> int:
    """Compile a file into a folder and tell of it."""
    if ledger:
        book_path, folder = Path(os.path.realpath(ledger)), Path(os.path.realpath(output))
        if folder in book_path.parents:
            raise click.UsageError(
                "--ledger lies in the folder of -o, which is replaced as a whole"
            )
        if book_path == folder or book_path in folder.parents:
            raise click.UsageError("--ledger names a file, and -o a folder within it")
    outcome, book = compile_file(file, dates, ledger)
    ask_for_dates(outcome, dates)
    code = exit_code(outcome, strict)
    print_report(outcome, sys.stderr, color, show_all=False)
    if code or outcome.program is None:
        click.echo("nothing was written", err=True)
        return EXIT_FINDINGS

    from photoperiod.formats import render_all
    from photoperiod.formats.atomic import write_directory
    from photoperiod.formats.cautions import CAUTIONS
    from photoperiod.report.summary import render_summary

    findings = outcome.report.sorted()
    files = render_all(outcome.program, findings)
    if ledger is None:
        write_directory(Path(output), files)
    else:
        from photoperiod.formats.atomic import written_beside
        from photoperiod.formats.ledger_json import render_ledger

        with written_beside(Path(ledger), render_ledger(outcome.program, book)):
            write_directory(Path(output), files)
    click.echo(render_summary(outcome.program, findings))
    click.echo(f"wrote {', '.join(files)} to {output}")
    if ledger is not None:
        click.echo(f"brought {ledger} up to {outcome.program.span.last}")  # type: ignore[union-attr]
    click.echo(f"Before you load it: {CAUTIONS[0]} {CAUTIONS[-1]}")
    return 0


@cli.command()
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
def sky(
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
    name, raw = read_file(file)

    from photoperiod.api import load

    outcome = load(name, raw)
    schedule = outcome.schedule
    if schedule is None:
        print_report(outcome, sys.stderr, color, show_all=False)
        return EXIT_FINDINGS
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


@cli.command()
@click.argument("code", required=False)
def explain(code: str | None) -> int:
    """Explain a diagnostic CODE, such as PHO201 or unknown-key; without one, list them all."""
    from photoperiod.diagnostics.codes import BY_NAME, CODES
    from photoperiod.text import close_match

    if code is None:
        for entry in CODES.values():
            click.echo(f"{entry.code}  {entry.severity:7}  {entry.name}: {entry.title}")
        return 0
    found = CODES.get(code.upper()) or BY_NAME.get(code.lower())
    if found is None:
        guess = close_match(code, [*CODES, *BY_NAME])
        way_out = f"did you mean {guess}?" if guess else "`photoperiod explain` lists them all"
        raise WrongUse(f"there is no code '{code}'; {way_out}")
    hard = " It stops compile unless the schedule accepts it by name." if found.is_hard else ""
    click.echo(f"{found.code} {found.name} ({found.severity}): {found.title}\n")
    click.echo(click.wrap_text(found.explanation + hard, width=78))
    return 0


@cli.command()
@click.argument("name", default="schedule")
@click.option("--path", "as_path", is_flag=True, help="Print where the schema lies instead.")
@click.option("--markdown", is_flag=True, help="Print the language reference instead.")
def schema(name: str, as_path: bool, markdown: bool) -> int:
    """Print the JSON Schema NAME: schedule (default), board, table, summary, replay and others."""
    from photoperiod.source.json_schema import NAMES, load_schema, schema_path, schema_text
    from photoperiod.text import suggestion

    if name not in NAMES:
        raise WrongUse(f"there is no schema '{name}'; {suggestion(name, NAMES)}")
    if markdown and name != "schedule":
        raise WrongUse("the language reference is that of schedules; leave out NAME")
    if as_path:
        click.echo(schema_path(name))
    elif markdown:
        from photoperiod.report.language import render_language

        click.echo(render_language(load_schema(name)), nl=False)
    else:
        click.echo(schema_text(name), nl=False)
    return 0


class Matching(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """Text that matches a pattern as a whole."""

    name = "text"

    def __init__(self, pattern: str) -> None:
        self.pattern = pattern

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """Return the text, or fail with a usage error."""
        if not re.fullmatch(self.pattern, value):
            self.fail(f"'{value}' is not in the form asked for", param, ctx)
        return str(value)


def _type_of(question: Question) -> Any:
    if question.choices:
        return click.Choice(question.choices)
    if question.pattern:
        return Matching(question.pattern)
    bounded: Any = click.IntRange if question.kind is int else click.FloatRange
    return bounded(question.least, question.most)


def _new_options(command: F) -> F:
    from photoperiod.schedule.starter import QUESTIONS

    for question in reversed(QUESTIONS):
        command = click.option(
            "--" + question.name.replace("_", "-"),
            question.name,
            type=_type_of(question),
            help=question.text + ".",
        )(command)
    return command


@cli.command()
@click.argument("file")
@_new_options
def new(file: str, **answers: Any) -> int:
    """Write a first schedule to FILE ('-' is standard output), asking what only you can know.

    Every question can be answered by an option instead. An existing file is never overwritten.
    """
    from photoperiod.api import load
    from photoperiod.report.text import render_text
    from photoperiod.schedule.starter import QUESTIONS, is_moot, starter_text
    from photoperiod.source.json_schema import schema_path

    if file != "-" and Path(file).exists():
        raise OutsideWorldError("PHO502", f"'{file}' is there already", "choose another name")
    if file != "-" and not os.access(Path(file).parent, os.W_OK):
        raise OutsideWorldError(
            "PHO502", f"can't write to the folder of '{file}'", "choose another"
        )
    open_questions = [q for q in QUESTIONS if answers[q.name] is None]
    for question in open_questions:
        if is_moot(question.name, answers):
            continue
        try:
            answer = click.prompt(question.text, type=_type_of(question), err=True)
        except click.Abort:
            names = ", ".join("--" + q.name.replace("_", "-") for q in open_questions)
            click.echo(
                f"\nnothing was written; what was asked can also be given as {names}", err=True
            )
            raise
        answers[question.name] = answer
    text = starter_text(answers, str(schema_path("schedule")))
    outcome = load("your answers", text.encode())
    if outcome.report.has_errors:
        click.echo(render_text(outcome.report, outcome.source.lines), err=True)
        click.echo("these answers make no schedule; nothing was written", err=True)
        return EXIT_FINDINGS
    if file == "-":
        click.echo(text, nl=False)
        return 0
    try:
        with Path(file).open("x", encoding="utf-8", newline="\n") as target:
            target.write(text)
    except OSError as error:
        raise OutsideWorldError("PHO502", f"can't write '{file}': {os_reason(error)}") from error
    click.echo(f"wrote {file}; next: photoperiod check {file}", err=True)
    return 0


cli.add_command(compare)
cli.add_command(export)
cli.add_command(hold)
cli.add_command(release)
cli.add_command(publish)
cli.add_command(replay)
cli.add_command(run)
