"""The conversation of ``photoperiod new`` on a terminal: pages, prompts, and what is said to a reply."""

from __future__ import annotations

import contextlib
import shutil
import sys
from collections.abc import Callable

import click

from photoperiod.schedule.conversation import BACK, EXPLAIN, Asked, Conversation
from photoperiod.schedule.questions import Page
from photoperiod.text import safe

#: Lines of text have at most this many columns.
MOST_COLUMNS = 100

_MAY_BE_YES = ("", "y", "yes")


class Asking:
    """A conversation with a person.

    Parameters
    ----------
    talk : Conversation
        Which question comes next.
    check : callable
        Returns the schedule that the answers make; or None, if they make none that can be written. It
        shows why.
    keep : callable
        Called after each reply, so that no answer is lost.
    refuse : callable
        Called with the next question; raises if an option answers it in a way that can't stand.
    remark : callable
        Called with what was answered; returns what is to be said of it, or nothing.
    typed : callable
        Shows a prompt and returns what is typed.
    say : callable
        Shows text.
    """

    def __init__(
        self,
        talk: Conversation,
        check: Callable[[], str | None],
        keep: Callable[[], None],
        refuse: Callable[[Asked | None], None],
        remark: Callable[[Asked], str] = lambda _: "",
        typed: Callable[[str], str] | None = None,
        say: Callable[[str], None] | None = None,
    ) -> None:
        self.talk, self.check, self.keep, self.refuse = talk, check, keep, refuse
        self.remark = remark
        self.typed, self.say = typed or typed_after, say or say_wrapped
        self._page: Page | None = None

    def until_agreed(self, target: str) -> str:
        """Return the schedule once every answer is there, nothing stands against it, and it is wanted.

        ``target`` names where it will be written.
        """
        self.say(
            f"`{EXPLAIN}` explains a question, `{BACK}` goes to the one before. Enter takes what stands"
            " in [ ]."
        )
        while True:
            self._ask_what_is_open()
            text = self.check()
            if text is None:
                self.say(
                    f"\nThese answers can't be used yet. `{BACK} peak blue`, say, goes to the peak of blue."
                )
            elif self._agrees(f"\nWrite {target} [yes]: "):
                return text
            while text is None and not self._goes_back(self.typed("What is to change: ")):
                pass

    def _ask_what_is_open(self) -> None:
        while (item := self.talk.current()) is not None:
            self.refuse(item)
            self._turn_to(item.question.page)
            objection = self.talk.objection(item)
            if objection:
                self.say(f"The answer so far can't stand: {objection}.")
            told = self.talk.reply(self.typed(prompt_of(item, self.talk.suggested(item))))
            told = told or self.remark(item)
            if told:
                self.say(told)
            self.keep()
        self.refuse(None)

    def _turn_to(self, page: Page) -> None:
        if page is not self._page:
            self._page = page
            self.say(f"\nPage {list(Page).index(page) + 1} of {len(Page)}: {page}\n")

    def _agrees(self, prompt: str) -> bool:
        """Return whether the schedule is to be written; False after going back to a question."""
        while True:
            typed = self.typed(prompt)
            if typed.strip().casefold() in _MAY_BE_YES:
                return True
            if self._goes_back(typed):
                return False

    def _goes_back(self, typed: str) -> bool:
        """Go back to the question that a reply names; return False, and say why, if it names none."""
        if typed.split()[:1] != [BACK]:
            self.say(
                f"`{BACK}` goes to the last question, `{BACK} dawn` to the dawn of the first channel,"
                f" `{BACK} dawn blue` to that of channel blue. Ctrl-C stops."
            )
            return False
        told = self.talk.reply(typed)
        if told:
            self.say(told)
        return not told


def prompt_of(item: Asked, suggested: str | None) -> str:
    """Return a question as it is asked, with the words to choose from, and what Enter takes."""
    form, hint = item.question.form, ""
    if item.choices:
        hint = f" ({', '.join(item.choices)})"
    elif form.word:
        hint = f" (or {form.word})"
    return f"{item.text}{hint}" + (f" [{suggested}]" if suggested is not None else "") + ": "


def typed_after(prompt: str) -> str:
    """Return what is typed after a prompt. The prompt stands on standard error.

    Raises
    ------
    click.Abort
        At the end of input (Ctrl-D).
    """
    click.echo(prompt, nl=False, err=True)
    with contextlib.redirect_stdout(sys.stderr):  # `input` writes there what it shows
        try:
            return input()
        except UnicodeDecodeError:
            return "\N{REPLACEMENT CHARACTER}"  # no form takes it
        except EOFError:
            raise click.Abort from None


def say_wrapped(text: str) -> None:
    """Show text on standard error, wrapped to the width of the terminal."""
    columns = min(MOST_COLUMNS, shutil.get_terminal_size().columns)
    for line in text.split("\n"):
        click.echo(click.wrap_text(safe(line), width=columns), err=True)
