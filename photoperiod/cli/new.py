"""``photoperiod new``: a first schedule, by a conversation or by options."""

from __future__ import annotations

import contextlib
import os
import shlex
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from photoperiod.cli.asking import Asking, say_wrapped
from photoperiod.cli.loading import EXIT_FINDINGS, NOTHING_WRITTEN, print_report, read_file
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Report
from photoperiod.errors import OutsideWorldError, WrongUse, os_reason
from photoperiod.formats.answers_text import MOST_BYTES, SUFFIX, parse, render, shown
from photoperiod.schedule.answer_forms import NotInForm
from photoperiod.schedule.answer_rules import Key
from photoperiod.schedule.conversation import BACK, Asked, Conversation
from photoperiod.schedule.questions import BY_NAME, QUESTIONS, Each, Question, subjects
from photoperiod.schedule.starter import left_open, starter_text
from photoperiod.text import counted, safe, suggestion

if TYPE_CHECKING:
    from photoperiod.schedule.answer_forms import Value
    from photoperiod.source.document import Document

#: Questions whose answer names a file.
FILES = ("readings_file", "sweep_file")

F = TypeVar("F", bound=Callable[..., Any])


class Answer(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """An answer to a question. What it is about may stand before it, as in ``strip=0.6``."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.name = "ANSWER" if question.each is Each.FILE else f"[{question.each.upper()}=]ANSWER"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, Value]:
        """Return what the answer is about and the answer, or fail with a usage error."""
        if isinstance(value, tuple):  # click may convert twice
            return value
        subject, equals, text = value.rpartition("=")
        if self.question.each is Each.FILE or not equals:
            subject, text = "", value
        try:
            return subject.strip(), self.question.form.read(text)
        except NotInForm as error:
            why = f"{error}; " if str(error) else ""
            self.fail(f"'{safe(text)}': {why}write {self.question.form.words}", param, ctx)


def _new_options(command: F) -> F:
    for question in reversed(QUESTIONS):
        words = question.text.removeprefix("{subject}: ").format(channel="", zone="")
        command = click.option(
            question.option,
            question.name,
            type=Answer(question),
            multiple=question.each is not Each.FILE,
            help=f"{' '.join(words.split())}: {question.form.words}.",
        )(command)
    return command


@click.command("new")
@click.argument("file")
@_new_options
def new_command(file: str, **options: Any) -> int:
    """Write a first schedule to FILE ('-' is standard output), asking what only you can know.

    While you answer, `?` explains a question and `back` goes to the one before. Answers are kept in
    FILE.answers until FILE is written, so you can stop at any time. An existing file is never overwritten.

    Every question can be answered by an option instead. Where a question is asked for each ballast,
    channel or zone, an option may name one, as in `--floor-volts strip=0.6`; otherwise it is for all.
    """
    _refuse_target(file)
    given = _given(options)
    kept = _kept(file)
    talk = Conversation(given, kept)

    def refuse(item: Asked | None) -> None:
        _refuse_options(talk, given, item)

    if not sys.stdin.isatty():
        _refuse_what_is_open(talk, refuse)
        text = _checked(talk, file)
        if text is None:
            click.echo(
                f"these answers make no schedule that can be used; {NOTHING_WRITTEN}", err=True
            )
            return EXIT_FINDINGS
        return _write(file, text, talk)
    asking = Asking(
        talk,
        lambda: _checked(talk, file),
        lambda: _keep(file, talk),
        refuse,
        lambda item: _not_there_yet(talk, item, file),
    )
    if kept:
        say_wrapped(
            f"Goes on with {counted(len(kept), 'answer')} from {file}{SUFFIX}. Move that file away to begin"
            " anew."
        )
    elif file != "-":
        say_wrapped(f"Answers are kept in {file}{SUFFIX} until {file} is written. Ctrl-C stops.")
    try:
        text = asking.until_agreed("it" if file == "-" else file)
    except (click.Abort, KeyboardInterrupt):
        say_wrapped(f"\n{_how_to_go_on(file, talk)}")
        raise click.Abort from None
    return _write(file, text, talk)


def _not_there_yet(talk: Conversation, item: Asked, file: str) -> str:
    """Return that a file which an answer names is not there, and the way out; empty if it is."""
    name = talk.answers.get(item.key)
    if item.question.name not in FILES or name in (None, "none"):
        return ""
    folder = Path() if file == "-" else Path(file).parent
    if (folder / str(name)).is_file():
        return ""
    where = "this folder" if folder == Path() else f"'{folder}'"
    way_out = ", or answer none" if item.question.form.word == "none" else ""
    return (
        f"There is no file '{name}' in {where} yet. Put it there before the end, or `{BACK}` goes back to"
        f" this question: name another{way_out}."
    )


def _refuse_target(file: str) -> None:
    """Raise if something stands there already, or nothing can be written there."""
    if file == "-":
        return
    if file == "":
        raise click.UsageError("FILE is the name of a file to write, such as tank.yaml")
    if os.path.lexists(file):
        raise OutsideWorldError("PHO502", f"'{file}' is there already", "choose another name")
    folder = Path(file).parent
    if not folder.is_dir():
        what = "is a file" if os.path.lexists(folder) else "is not there"
        raise OutsideWorldError(
            "PHO502", f"'{folder}', the folder of '{file}', {what}", "make it, or choose another"
        )
    if not os.access(folder, os.W_OK):
        raise OutsideWorldError(
            "PHO502", f"nothing may be written into '{folder}'", "choose another folder"
        )


def _given(options: Mapping[str, Any]) -> dict[Key, Value]:
    """Return the answers that stand in options."""
    given: dict[Key, Value] = {}
    for name, answers in options.items():
        each = [answers] if BY_NAME[name].each is Each.FILE else answers
        for subject, value in filter(None, each):
            given[name, subject] = value
    return given


def _refuse_options(talk: Conversation, given: Mapping[Key, Value], item: Asked | None) -> None:
    """Raise a usage error for an option that names nothing there is, or can't stand beside the others."""
    for name, subject in given:
        question = BY_NAME[name]
        known = subjects(question.each, talk.answers)
        if subject and subject not in known and (known or item is None):
            help = suggestion(subject, known, question.each)
            raise click.UsageError(
                f"{question.option}: there is no {question.each} '{safe(subject)}'; {help}"
            )
    if item is not None and talk.is_given(item):
        objection = talk.objection(item)
        if objection:
            raise click.UsageError(f"{item.question.option}: {objection}")


def _refuse_what_is_open(talk: Conversation, refuse: Callable[[Asked | None], None]) -> None:
    """Raise, with the options that are missing, where nobody can be asked."""
    told = set(talk.kept)
    still_open = talk.take_defaults()
    item = talk.current()
    refuse(item)
    if item is None:
        return
    lines = [f"  {each.question.option}  {each.text}: {each.words}" for each in still_open]
    if not still_open:
        lines = [f"  {item.question.option}  {talk.objection(item)}"]
    more = [
        question.option
        for question in QUESTIONS
        if question.each is not Each.FILE and not subjects(question.each, talk.answers)
    ]
    if more:
        lines.append(f"  Those of each ballast, channel and zone may follow: {', '.join(more)}.")
    if still_open:
        lines += _taken_unless_told(talk, told)
    raise WrongUse(
        "standard input is no terminal, so nobody can be asked. Answer by options:\n"
        + "\n".join(lines)
    )


def _taken_unless_told(talk: Conversation, told: set[Key]) -> list[str]:
    """Return a line with the options that nobody gave and that have a default, as one would write them."""
    taken = []
    for name, subject in talk.answers:
        if (name, subject) not in told:
            form, value = BY_NAME[name].form, talk.answers[name, subject]
            others = ", ".join(each for each in form.choices if each != value)
            words = f"{BY_NAME[name].option} {form.show(value)}"
            taken.append(words + (f" (or {others})" if others else ""))
    return [f"  Taken unless told: {'; '.join(dict.fromkeys(taken))}."] if taken else []


@dataclass(frozen=True, slots=True)
class _Errors:
    """What stands against a schedule; the rest of what was found can wait for `check`."""

    document: Document | None
    report: Report


def _checked(talk: Conversation, file: str) -> str | None:
    """Return the schedule that the answers make; None, and show why, if `check` would find an error."""
    from photoperiod.api import Compiled, Loaded, ScheduleError, compile, load_text
    from photoperiod.source.json_schema import schema_path

    text = starter_text(talk.answers, schema_path("schedule").as_posix())
    found: Compiled | Loaded | ScheduleError
    try:
        folder = Path() if file == "-" else Path(file).parent
        found = loaded = load_text("your answers", text.encode("utf-8", "backslashreplace"), folder)
        if not loaded.schedule.needs_dates:
            found = compile(loaded)
    except ScheduleError as fault:
        found = fault
    if not found.report.has_errors:
        return text
    errors = [diagnostic for diagnostic in found.report if diagnostic.severity is Severity.ERROR]
    shown = _Errors(found.document, Report(found.report.file, errors))
    print_report(shown, sys.stderr, "auto", show_all=False)
    return None


def _kept(file: str) -> dict[Key, Value]:
    """Return the answers of a conversation that was broken off; none if there was none."""
    kept = file + SUFFIX
    if file == "-" or not os.path.lexists(kept):
        return {}
    try:
        return parse(read_file(kept, MOST_BYTES, "move it away to begin anew")[1])
    except ValueError as error:
        raise OutsideWorldError(
            "PHO501", f"'{kept}' holds no answers: {error}", "move it away to begin anew"
        ) from error


def _keep(file: str, talk: Conversation) -> None:
    """Write the answers so far beside the target."""
    from photoperiod.formats.atomic import replace_file

    if file != "-":
        with contextlib.suppress(OSError):  # `_how_to_go_on` then names them
            replace_file(Path(file + SUFFIX), render(talk.kept, file))


def _how_to_go_on(file: str, talk: Conversation) -> str:
    """Return how the conversation goes on after it was broken off."""
    if not talk.answers:
        return NOTHING_WRITTEN
    if file != "-" and Path(file + SUFFIX).is_file():
        command = shlex.join(["photoperiod", "new", file])
        return f"What you answered is kept in {file}{SUFFIX}; `{command}` goes on from there."
    words = ["photoperiod", "new", file]
    for (name, subject), value in talk.answers.items():
        text = shown((name, subject), value)
        words += [BY_NAME[name].option, f"{subject}={text}" if subject else text]
    return f"The answers so far: {shlex.join(words)}"


def _write(file: str, text: str, talk: Conversation) -> int:
    """Write the schedule, and say what is open and what comes next."""
    from photoperiod.formats.atomic import create_file

    if file == "-":
        click.echo(text, nl=False)
    else:
        try:
            create_file(Path(file), text.encode("utf-8", "backslashreplace"))
        except OSError as error:
            raise OutsideWorldError(
                "PHO502",
                f"can't write '{file}': {os_reason(error)}",
                f"answers are kept in '{file}{SUFFIX}'" if Path(file + SUFFIX).exists() else "",
            ) from error
        with contextlib.suppress(OSError):
            Path(file + SUFFIX).unlink(missing_ok=True)
    for sentence in left_open(talk.answers):
        say_wrapped(sentence)
    if file != "-":
        click.echo(safe(f"wrote {file}; next: photoperiod check {file}"), err=True)
    return 0
