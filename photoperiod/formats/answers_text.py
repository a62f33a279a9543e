"""The answers of a conversation that was broken off: lines of text beside the schedule to be written.

Each line is the name of a question, what it is about if there are several, and the answer::

    rows = 12
    floor-volts strip = 0.6
"""

from __future__ import annotations

from photoperiod.schedule.answer_forms import NotInForm, Value
from photoperiod.schedule.answer_rules import Answers, Key
from photoperiod.schedule.questions import BY_NAME

#: What is put behind the name of the schedule.
SUFFIX = ".answers"

#: No file of answers is larger. [bytes]
MOST_BYTES = 2**18


def render(answers: Answers, file: str) -> bytes:
    """Return the answers as text; ``file`` is the schedule that they are for."""
    lines = [
        f"# Answers for {file}. `photoperiod new {file}` goes on from here.",
        *(f"{name_of(key)} = {shown(key, value)}" for key, value in answers.items()),
    ]
    return ("\n".join(lines) + "\n").encode("utf-8", "backslashreplace")


def name_of(key: Key) -> str:
    """Return the question and what it is about as the file names it."""
    name, subject = key
    return name.replace("_", "-") + (f" {subject}" if subject else "")


def shown(key: Key, value: Value) -> str:
    """Return an answer as it could be typed."""
    return BY_NAME[key[0]].form.show(value)


def parse(raw: bytes) -> dict[Key, Value]:
    """Return the answers of a text.

    A question that is not known any more, and an answer that is not in its form, are left out: they are
    asked again.

    Raises
    ------
    ValueError
        If a line is none of an answer; the text says which.
    """
    found: dict[Key, Value] = {}
    for number, line in enumerate(raw.decode("utf-8", "replace").splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        name, equals, typed = line.partition(" = ")
        words = name.split()
        if not equals or len(words) not in (1, 2):
            raise ValueError(f"line {number} is no answer")
        question = BY_NAME.get(words[0].replace("-", "_"))
        if question is None:
            continue
        try:
            found[question.name, " ".join(words[1:])] = question.form.read(typed)
        except NotInForm:
            continue
    return found
