"""The conversation that makes a first schedule: which question comes next, and what a reply does to it.

It knows no terminal: a reply is text, and so is what is said to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from photoperiod.schedule.answer_forms import NotInForm, Value
from photoperiod.schedule.answer_rules import Answers, Key, names
from photoperiod.schedule.questions import BY_NAME, QUESTIONS, Question, subjects
from photoperiod.text import close_match, short

#: Replies that are no answer.
EXPLAIN, BACK = "?", "back"


@dataclass(frozen=True, slots=True)
class Asked:
    """A question about one thing; ``subject`` is empty if it is about the whole file.

    ``names`` are those of the file that the answer must be one of; empty if there are none.
    """

    question: Question
    subject: str
    names: tuple[str, ...] = field(default=(), compare=False)

    @property
    def key(self) -> Key:
        """Under which its answer is kept."""
        return self.question.name, self.subject

    @property
    def text(self) -> str:
        """The question in words."""
        channel, _, zone = self.subject.partition("/")
        return self.question.text.format(subject=self.subject, channel=channel, zone=zone)

    @property
    def words(self) -> str:
        """What an answer looks like, in words."""
        if not self.names:
            return self.question.form.words
        return " or ".join(filter(None, (", ".join(self.names[:-1]), self.names[-1])))

    @property
    def choices(self) -> tuple[str, ...]:
        """The words that the answer must be one of; empty if it is free."""
        return self.names or self.question.form.choices


def asked(answers: Answers) -> Iterator[Asked]:
    """Yield the questions that the answers so far leave meaningful, in their order.

    What is not named yet (the channels, say) is not asked about. An answer to a question that is
    meaningless counts for nothing. A mapping that grows meanwhile is followed.
    """
    found: dict[Key, Value] = {}
    for (_, each), group in groupby(QUESTIONS, lambda question: (question.page, question.each)):
        together = tuple(group)
        for subject in subjects(each, found):
            for question in together:
                if question.is_moot(found, subject):
                    continue
                item = Asked(question, subject, names(found, question.one_of))
                yield item
                if item.key in answers:
                    found[item.key] = answers[item.key]


def _objection(item: Asked, answers: Answers) -> str:
    value = answers.get(item.key)
    return "" if value is None else item.question.objection(answers, item.subject, value)


def _name_in(word: str) -> str:
    """Return the name of a question from a word that is typed: with hyphens, as an option, or as it is."""
    return word.strip("-").replace("-", "_")


def _is_answer(text: str, item: Asked | None) -> bool:
    """Return whether a reply that begins with `back` is an answer, such as a title: `back to the reef`."""
    if item is None or _name_in(text.split()[1]) in BY_NAME:
        return False
    try:
        return bool(item.question.form.read(text))
    except NotInForm:
        return False


class Conversation:
    """The answers so far, and where the conversation stands.

    Parameters
    ----------
    given : mapping of (name, subject) to value
        Answers that were given otherwise, by options. An empty subject is for all subjects that have
        no answer of their own. They are not asked for.
    kept : mapping of (name, subject) to value
        Answers of a conversation that was broken off.
    """

    def __init__(
        self, given: Mapping[Key, Value] | None = None, kept: Answers | None = None
    ) -> None:
        self._given = dict(given or {})
        self._answers: dict[Key, Value] = dict(kept or {})
        self._at: Key | None = None  # a question that was gone back to
        self._steps_on = False  # whether the questions after it are gone through, too
        self._take_given()

    @property
    def answers(self) -> Answers:
        """The answers to all questions that are meaningful, in the order of the questions."""
        items = asked(self._answers)
        return {item.key: self._answers[item.key] for item in items if item.key in self._answers}

    @property
    def kept(self) -> Answers:
        """All answers, also those that others have made meaningless since: they may be wanted again."""
        return self._answers

    def is_given(self, item: Asked) -> bool:
        """Return whether a question was answered otherwise, so that it is not asked."""
        name, subject = item.key
        return (name, subject) in self._given or (name, "") in self._given

    def current(self) -> Asked | None:
        """Return the question to ask now; None if every answer is there and can stand."""
        items, answers = list(asked(self._answers)), self.answers
        for item in items:
            if item.key == self._at:
                return item
        self._at = None
        for item in items:
            if item.key not in answers or _objection(item, answers):
                return item
        return None

    def objection(self, item: Asked) -> str:
        """Return why the answer to a question can't stand beside the others, or an empty text."""
        return _objection(item, self.answers)

    def suggested(self, item: Asked) -> str | None:
        """Return what an empty reply means: the answer so far, or the default; None if there is none."""
        value = self._answers.get(item.key)
        if value is None:
            value = item.question.default(self.answers, item.subject)
        return None if value is None else item.question.form.show(value)

    def take_defaults(self) -> tuple[Asked, ...]:
        """Take the default of each open question that has one; return those that stay open."""
        stay_open = []
        for item in asked(self._answers):
            if item.key not in self._answers:
                value = item.question.default(self.answers, item.subject)
                if value is None:
                    stay_open.append(item)
                else:
                    self._answers[item.key] = value
        return tuple(stay_open)

    def reply(self, text: str) -> str:
        """Take a reply to the current question, and return what to say to it; empty if nothing.

        A reply is an answer, ``?``, or ``back``, which may name the question to go back to. An empty one
        keeps the answer so far, or takes the default.
        """
        text = " ".join(text.split())
        item = self.current()
        word, *words = text.casefold().split() or [""]
        if word == BACK and not (words and _is_answer(text, item)):
            return self._go_back(item, words)
        if item is None:
            return ""
        question = item.question
        if text == EXPLAIN:
            return f"{question.help}\nWrite {item.words}."
        typed = text or self.suggested(item)
        if not typed:
            return f"An answer is needed. Write {item.words}."
        try:
            value = question.form.read(typed)
            objection = question.objection(self.answers, item.subject, value)
            if objection:
                raise NotInForm(objection)
        except NotInForm as error:
            why = f": {error}" if str(error) else ""
            return f"Not taken{why}. Write {item.words}."
        self._answers[item.key] = value
        self._take_given()
        self._go_on(item)
        shown = question.form.show(value)
        return f"taken as {shown}" if shown.casefold() != typed.casefold() else ""

    def _go_on(self, item: Asked) -> None:
        """Leave a question that was gone back to, for the next one if that has an answer already."""
        if not (self._at and self._steps_on):
            self._at = None
            return
        mine = [each for each in asked(self._answers) if not self.is_given(each)]
        after = mine[mine.index(item) + 1 :] if item in mine else []
        goes_on = bool(after) and after[0].key in self._answers
        self._at = after[0].key if goes_on else None

    def _go_back(self, item: Asked | None, words: list[str]) -> str:
        """Go back to the question before, or to the one that is named."""
        before = []
        for each in asked(self._answers):
            if each == item:
                break
            if not self.is_given(each):
                before.append(each)
        if words:
            return self._go_to([*before, *([item] if item else [])], words)
        if not before:
            return "This is the first question."
        self._at, self._steps_on = before[-1].key, True
        return ""

    def _go_to(self, before: list[Asked], words: list[str]) -> str:
        """Go to the question that words name, among those up to here."""
        name, subject = _name_in(words[0]), " ".join(words[1:])
        for is_meant in (str.__eq__, str.startswith):  # the whole name comes first
            for each in before:
                if is_meant(each.question.name, name) and subject in ("", each.subject):
                    self._at, self._steps_on = each.key, False
                    return ""
        there = [each.question.option.strip("-") for each in before]
        guess = close_match(words[0], there)
        if name in BY_NAME and name not in (each.question.name for each in before):
            return f"'{words[0]}' was not asked yet, or was answered by its option."
        return f"There is no answer '{short(' '.join(words))}'" + (
            f": did you mean {BACK} {guess}?" if guess else "."
        )

    def _take_given(self) -> None:
        """Put in what was answered otherwise, wherever it is asked for."""
        for item in asked(self._answers):
            name, subject = item.key
            for key in ((name, ""), (name, subject)):
                if key in self._given:
                    self._answers[item.key] = self._given[key]
