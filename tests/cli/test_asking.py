from __future__ import annotations

import sys
from collections.abc import Iterator

import click
import pytest

from photoperiod.cli import asking
from photoperiod.cli.asking import Asking, prompt_of, typed_after
from photoperiod.schedule.conversation import Asked, Conversation
from photoperiod.schedule.questions import BY_NAME, Page
from tests.schedule.talking import talked


class Bench:
    """A conversation with replies from a list; what is shown and kept is written down."""

    def __init__(
        self, talk: Conversation, *replies: str, texts: tuple[str | None, ...] = ("text",)
    ) -> None:
        self.talk, self.kept = talk, 0
        self.shown: list[str] = []
        self.replies: Iterator[str] = iter(replies)
        self.texts = iter(texts)
        self.asking = Asking(talk, lambda: next(self.texts), self.keep, lambda _: None,
                             typed=self.type, say=self.shown.append)  # fmt: skip

    def keep(self) -> None:
        self.kept += 1

    def type(self, prompt: str) -> str:
        self.shown.append(prompt)
        return next(self.replies)


def complete() -> Conversation:
    talk = talked()
    talk.take_defaults()
    return Conversation(kept=talk.kept)


def test_pages_are_turned_and_each_reply_is_kept() -> None:
    bench = Bench(Conversation(), "reef", "", "none", "twelve")
    with pytest.raises(StopIteration):
        bench.asking.until_agreed("tank.yaml")
    assert bench.kept == 4
    pages = [text for text in bench.shown if text.startswith("\nPage")]
    assert pages == ["\nPage 1 of 6: the tank\n", "\nPage 2 of 6: the controller\n"]
    assert bench.shown[-2] == "Not taken. Write a whole number from 1 to 1440."


def test_nothing_is_written_before_it_is_wanted_and_back_works_until_then() -> None:
    bench = Bench(complete(), "what?", "back dawn", "08:00", "yes", texts=("one", "two"))
    assert bench.asking.until_agreed("tank.yaml") == "two"
    assert bench.talk.answers["dawn", "blue"] == "08:00"
    assert bench.shown.count("\nWrite tank.yaml [yes]: ") == 3
    assert any(text.startswith("`back` goes to the last question") for text in bench.shown)


def test_answers_that_can_not_be_used_are_changed_not_lost() -> None:
    bench = Bench(complete(), "", "back rwos", "back rows", "8", "y", texts=(None, "text"))
    assert bench.asking.until_agreed("tank.yaml") == "text"
    assert bench.shown.count("What is to change: ") == 3
    assert bench.talk.answers["rows", ""] == 8


def test_a_file_that_is_not_there_is_told_of_at_once_and_the_answer_stays() -> None:
    bench = Bench(Conversation(), "reef")
    bench.asking.remark = lambda item: f"{item.question.name}: not there yet"
    with pytest.raises(StopIteration):
        bench.asking.until_agreed("tank.yaml")
    assert "tank: not there yet" in bench.shown
    assert bench.talk.answers["tank", ""] == "reef"


def test_an_answer_that_can_not_stand_any_more_is_asked_for_with_the_reason() -> None:
    bench = Bench(complete(), "back dawn", "22:00", "23:00", "20", "yes", "yes", "", "", "")
    with pytest.raises(StopIteration):
        bench.asking.until_agreed("tank.yaml")
    assert (
        "The answer so far can't stand: that is not after dawn at 22:00; if the light goes on past"
        in (" ".join(bench.shown))
    )
    assert bench.talk.answers["dusk", "blue"] == "23:00"


def test_options_that_can_not_stand_are_refused_before_anything_is_asked() -> None:
    refused: list[Asked | None] = []
    bench = Bench(complete(), "yes")
    bench.asking.refuse = refused.append
    bench.asking.until_agreed("it")
    assert refused == [None]


def test_a_prompt_shows_words_to_choose_from_and_what_enter_takes() -> None:
    assert prompt_of(Asked(BY_NAME["between"], ""), None) == (
        "How the level goes from one row to the next (line, hold): "
    )
    assert prompt_of(Asked(BY_NAME["dawn"], "blue"), "09:00") == "blue: first light [09:00]: "
    ballast = Asked(BY_NAME["ballast"], "moon", ("duo", "hexa", "strip"))
    assert prompt_of(ballast, None) == "moon: its kind of ballast (duo, hexa, strip): "
    reading = prompt_of(Asked(BY_NAME["full_ppfd"], "blue/crest"), None)
    assert reading == "Channel blue alone, at full, warm: PPFD in zone crest (or later): "


def test_what_is_asked_and_said_stays_off_standard_output(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def typed() -> str:
        sys.stdout.write(" ")  # as `input` may do where there is no terminal
        return "12"

    monkeypatch.setattr("builtins.input", typed)
    assert typed_after("rows: ") == "12"
    asking.say_wrapped("a\nb\x1b")
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "rows:  a\nb\\x1b\n"


def test_the_end_of_input_stops_and_bytes_that_are_no_text_are_no_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def ends() -> str:
        raise EOFError

    def is_no_text() -> str:
        raise UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte")

    monkeypatch.setattr("builtins.input", ends)
    with pytest.raises(click.Abort):
        typed_after("rows: ")
    monkeypatch.setattr("builtins.input", is_no_text)
    assert Conversation().reply(typed_after("rows: ")).startswith("Not taken")


def test_the_titles_of_pages_are_words() -> None:
    assert all(page == page.lower() for page in Page)
