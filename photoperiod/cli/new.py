"""``photoperiod new``: a first schedule from answers."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from photoperiod.cli.loading import EXIT_FINDINGS
from photoperiod.errors import OutsideWorldError, os_reason

if TYPE_CHECKING:
    from photoperiod.schedule.starter import Question

F = TypeVar("F", bound=Callable[..., Any])


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


@click.command("new")
@click.argument("file")
@_new_options
def new_command(file: str, **answers: Any) -> int:
    """Write a first schedule to FILE ('-' is standard output), asking what only you can know.

    Every question can be answered by an option instead. An existing file is never overwritten.
    """
    from photoperiod.api import ScheduleError, load_text
    from photoperiod.formats.atomic import create_file
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
    try:
        load_text("your answers", text.encode())
    except ScheduleError as fault:
        click.echo(render_text(fault.report, text.splitlines()), err=True)
        click.echo("these answers make no schedule; nothing was written", err=True)
        return EXIT_FINDINGS
    if file == "-":
        click.echo(text, nl=False)
        return 0
    try:
        create_file(Path(file), text.encode())
    except OSError as error:
        raise OutsideWorldError("PHO502", f"can't write '{file}': {os_reason(error)}") from error
    click.echo(f"wrote {file}; next: photoperiod check {file}", err=True)
    return 0
