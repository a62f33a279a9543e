from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.schedule.conversation import Conversation, asked
from photoperiod.schedule.questions import BY_NAME, QUESTIONS
from tests.conftest import drawn
from tests.schedule.talking import TYPED, answered, talked

#: A wrong reply to each question: not in its form, or at odds with the answers before it.
WRONG = {name: "?!" for name in BY_NAME} | {
    "title": "x" * 201, "full_volts": "0.5", "dark": "magic", "standby_volts": "9", "dusk": "08:00",
    "moon_end": "25:00", "rows": "0", "level_step": "1", "time_step_minutes": "7", "dawn": "9",
    "ramp_minutes": "12 h", "peak_light_percent": "120 %", "tube_watts": "54 V", "lit_night_because": "algae",
    "sweep_file": "/sweep.csv", "readings_file": "C:\\map.csv",
}  # fmt: skip

#: A right reply to each question that the usual answers leave out.
RIGHT = TYPED | {
    "title": "none", "place": "38.10 N 29.50 W", "time_zone": "Atlantic/Azores", "clock": "civil",
    "plan_clock": "standard", "ballasts": "pair, strip", "ballast": "pair", "tubes": "2",
    "tube_watts": "54 W", "burn_in_hours": "12", "fitted": "2027-03-02", "zones": "crest", "dli": "3 to 9",
    "ppfd_max": "350", "full_ppfd": "100", "measured_on": "2027-03-20", "gives": "both",
    "moonlight": "phase", "moon_light_percent": "2", "moon_start": "22:00", "moon_end": "02:00",
    "standby_volts": "0.5", "keeps_mains": "no", "on_level_percent": "5", "lit_night_because": "algae only",
    "sweep_file": "light/sweep.csv", "readings_file": "none",
}  # fmt: skip


def right(name: str, subject: str) -> str:
    """Return a right reply; the strip has a standby and a sweep, so that every question comes."""
    if subject == "strip":
        told = {"dark": "standby", "floor_volts": "0.6", "response": "swept"}
        return told.get(name, RIGHT[name])
    return "follows-level" if name == "relay" else RIGHT[name]


def test_each_question_refuses_a_wrong_reply_with_its_form_and_explains_itself() -> None:
    talk = Conversation()
    seen = set()
    while (item := talk.current()) is not None:
        question = item.question
        before = dict(talk.answers)
        told = talk.reply(WRONG[question.name])
        assert told.startswith("Not taken") and item.words in told, item.key
        told = talk.reply("?")
        assert question.help in told and item.words in told
        if talk.suggested(item) is None:
            assert talk.reply("").startswith("An answer is needed. Write ")
        assert dict(talk.answers) == before and talk.current() == item
        told = talk.reply(right(*item.key))
        assert not told or told.startswith("taken as "), (item.key, told)
        seen.add(question.name)
    never = {"lit_night_because"}
    assert seen == BY_NAME.keys() - never


def test_of_ballasts_the_names_that_were_given_are_told() -> None:
    given = {
        name: value
        for (name, _), value in answered(ballasts="duo, hexa, strip", ballast="duo").items()
        if name != "ballast"
    }
    talk = Conversation({(name, ""): value for name, value in given.items()})
    item = talk.current()
    assert item is not None and item.key == ("ballast", "blue")
    assert item.choices == ("duo", "hexa", "strip")
    for reply in ("?", "", "pair", "?!"):
        assert "Write duo, hexa or strip." in talk.reply(reply)
    assert talk.reply("hexa") == ""


def test_what_was_read_otherwise_than_typed_is_told() -> None:
    talk = Conversation({("tank", ""): "x", ("title", ""): "none", ("place", ""): "none"})
    assert talk.reply("12 rows") == "taken as 12"
    assert talk.reply("1") == ""
    assert talk.reply("0,5 %") == "taken as 0.5 %"
    assert talk.reply("LINE") == ""


def until(talk: Conversation, name: str) -> None:
    while (item := talk.current()) is not None and item.question.name != name:
        talk.reply(right(*item.key))


def at(talk: Conversation) -> str:
    item = talk.current()
    return "" if item is None else item.question.name


def test_back_goes_to_the_question_before_and_enter_keeps_its_answer() -> None:
    talk = Conversation()
    assert talk.reply("back") == "This is the first question."
    until(talk, "between")
    for name in ("level_step", "time_step_minutes", "rows"):
        assert talk.reply("back") == ""
        assert at(talk) == name
    item = talk.current()
    assert item is not None and talk.suggested(item) == "10"
    talk.reply("11")
    assert talk.answers["rows", ""] == 11
    assert at(talk) == "time_step_minutes"
    assert talk.reply("") == ""
    assert at(talk) == "level_step"
    talk.reply("")
    assert at(talk) == "between"
    assert talk.answers["level_step", ""] == ("percent", "1")


def test_back_can_name_a_question_and_then_goes_on_where_it_was() -> None:
    talk = Conversation()
    until(talk, "moonlight")
    assert talk.reply("back dawn blue") == ""
    item = talk.current()
    assert item is not None and item.key == ("dawn", "blue")
    assert talk.reply("8am") == "taken as 08:00"
    assert at(talk) == "moonlight"
    assert talk.reply("back peak blue") == "" and at(talk) == "peak_light_percent"
    talk.reply("")
    assert talk.reply("back tube blue") == "" and at(talk) == "tubes", (
        "the whole word, or how it begins"
    )
    talk.reply("")
    assert talk.reply("back --rows") == "" and at(talk) == "rows"
    assert talk.reply("back rows") == "" and at(talk) == "rows", "it is here already"
    talk.reply("back rwos")
    assert at(talk) == "rows"
    talk.reply("")
    assert "did you mean back rows?" in talk.reply("back rwos")
    assert "not asked yet" in talk.reply("back moon-end")
    assert "There is no answer 'nonsense'" in talk.reply("back nonsense")
    assert at(talk) == "moonlight"


def test_a_title_may_begin_with_back() -> None:
    talk = Conversation()
    talk.reply("reef")
    assert at(talk) == "title"
    assert talk.reply("Back to the reef") == ""
    assert talk.answers["title", ""] == "Back to the reef"
    assert talk.reply("BACK") == "" and at(talk) == "title"
    assert talk.reply("back tank") == "" and at(talk) == "tank"


def test_a_changed_answer_asks_for_what_it_makes_new_and_keeps_what_it_makes_moot() -> None:
    talk = Conversation()
    until(talk, "zones")
    talk.reply("back channels")
    talk.reply("blue, royal")
    item = talk.current()
    assert item is not None and item.key == ("ballast", "royal")
    talk.reply("back channels")
    talk.reply("blue, white")
    assert at(talk) == "zones", "the answers about white were kept"


def test_an_answer_that_another_makes_moot_counts_for_nothing() -> None:
    typed = {"zones": "crest", "dli": "later", "ppfd_max": "later", "full_ppfd": "100"}
    talk = Conversation(kept=talked(**typed, burn_in_hours="12", fitted="2027-03-02").kept)
    talk.take_defaults()
    talk.reply("2027-03-01")
    assert at(talk) == "measured_on", "the tubes were not there yet"
    for channel in ("blue", "white"):
        talk.reply(f"back burn-in-hours {channel}")
        talk.reply("0")
    assert talk.reply("2027-03-01").startswith("Not taken"), "they were still fitted later"
    for channel in ("blue", "white"):
        talk.reply(f"back tubes {channel}")
        talk.reply("0")
    assert talk.reply("2027-03-01") == ""
    assert at(talk) == ""
    assert ("fitted", "blue") in talk.kept and ("fitted", "blue") not in talk.answers


def test_a_changed_answer_that_another_can_not_stand_beside_leads_to_that_one() -> None:
    talk = talked(dusk="21:00")
    talk = Conversation(kept=talk.answers)
    talk.take_defaults()
    assert at(talk) == ""
    talk.reply("back dawn blue")
    talk.reply("22:00")
    item = talk.current()
    assert item is not None and item.key == ("dusk", "blue")
    assert "not after dawn at 22:00" in talk.objection(item)
    assert talk.reply("").startswith("Not taken: that is not after dawn")
    talk.reply("23:59")
    assert at(talk) == "ramp_minutes"


def test_what_options_answer_is_not_asked_and_not_gone_back_to() -> None:
    talk = Conversation({("rows", ""): 12, ("floor_volts", ""): 1.0, ("floor_volts", "strip"): 0.6})
    seen = []
    while (item := talk.current()) is not None:
        seen.append(item.key)
        talk.reply(right(*item.key))
    assert not {"rows", "floor_volts"} & {name for name, _ in seen}
    assert talk.answers["floor_volts", "pair"] == 1.0
    assert talk.answers["floor_volts", "strip"] == 0.6
    assert "answered by its option" in talk.reply("back rows")


def test_a_conversation_goes_on_from_kept_answers_and_options_come_first() -> None:
    talk = Conversation()
    until(talk, "zones")
    again = Conversation({("rows", ""): 99}, talk.answers)
    assert at(again) == "zones"
    assert again.answers["rows", ""] == 99
    assert again.answers["bits", ""] == 12
    assert again.reply("back") == ""
    assert at(again) == "fitted"


def test_channels_after_the_first_begin_with_its_times() -> None:
    talk = Conversation()
    until(talk, "dawn")
    for reply in ("08:30", "20:30", "45", "70"):
        talk.reply(reply)
    while at(talk) != "dawn":
        item = talk.current()
        assert item is not None
        talk.reply(right(*item.key))
    for name, value in (("dawn", "08:30"), ("dusk", "20:30"), ("ramp_minutes", "45")):
        item = talk.current()
        assert item is not None and item.key == (name, "white")
        assert talk.suggested(item) == value
        talk.reply("")


def test_questions_about_one_thing_stand_together() -> None:
    items = [item.key for item in asked(answered(tubes="2", tube_watts="54"))]
    blue = items.index(("ballast_count", "blue"))
    assert items[blue : blue + 5] == [
        ("ballast_count", "blue"), ("tubes", "blue"), ("tube_watts", "blue"), ("burn_in_hours", "blue"),
        ("fitted", "blue"),
    ]  # fmt: skip
    assert items[blue + 5] == ("ballast_count", "white")


@pytest.mark.parametrize("reply", ["later", "back", "?", "Backs"])
def test_a_reply_to_nothing_is_no_fault(reply: str) -> None:
    talk = talked()
    talk.take_defaults()
    assert talk.current() is None
    talk.reply(reply)


REPLIES = st.lists(
    st.one_of(
        st.sampled_from(["", "?", "back", "back rows", "back dawn blue", "later", "none", *RIGHT.values()]),
        st.sampled_from(sorted({word for q in QUESTIONS for word in q.form.choices})),
    ),
    max_size=60,
)  # fmt: skip


@settings(max_examples=drawn(40))
@given(REPLIES)
def test_no_conversation_loses_an_answer_or_holds_one_that_is_not_in_its_form(
    replies: list[str],
) -> None:
    talk = Conversation()
    for reply in replies:
        before = set(talk.kept)
        talk.reply(reply)
        assert before <= set(talk.kept)
    for (name, _), value in talk.kept.items():
        form = BY_NAME[name].form
        assert form.read(form.show(value)) == value
