"""Answers for tests: what a keeper types, by question, and by what it is about."""

from __future__ import annotations

from photoperiod.schedule.answer_rules import Answers, Key
from photoperiod.schedule.conversation import Conversation
from photoperiod.schedule.questions import BY_NAME

#: Two pairs of tubes, by options that are for everything.
TYPED = {
    "tank": "my-tank", "title": "My tank", "rows": "10", "time_step_minutes": "1", "level_step": "1 %",
    "between": "line", "after_last_row": "wrap", "relay": "column", "clock": "standard", "bits": "12",
    "full_scale_volts": "10", "ballasts": "pair", "response": "square-law", "floor_volts": "1",
    "floor_light_percent": "1", "full_volts": "10", "dark": "relay", "channels": "blue, white",
    "ballast_count": "1", "tubes": "2 x 54 W", "burn_in_hours": "0", "zones": "later",
    "dawn": "09:00", "dusk": "21:00", "ramp_minutes": "60", "peak_light_percent": "80",
}  # fmt: skip


def key_of(name: str) -> Key:
    """Return the key of ``name`` or ``name@subject``."""
    question, _, subject = name.partition("@")
    return question, subject


def talked(**changes: str) -> Conversation:
    """Return a conversation with the usual answers and others, from the pairs of name and text."""
    typed = TYPED | changes
    given = {}
    for name, text in typed.items():
        key = key_of(name)
        given[key] = BY_NAME[key[0]].form.read(text)
    return Conversation(given)


def answered(**changes: str) -> Answers:
    """Return the answers of such a conversation, which must be complete."""
    talk = talked(**changes)
    assert talk.take_defaults() == ()
    item = talk.current()
    assert item is None, (item and item.key, item and talk.objection(item))
    return talk.answers
