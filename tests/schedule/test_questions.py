from __future__ import annotations

from typing import Any

import pytest

from photoperiod.schedule.answer_forms import NotInForm
from photoperiod.schedule.questions import BY_NAME, QUESTIONS, Each, Page, subjects
from photoperiod.source.json_schema import load_schema
from tests.conftest import naming

#: The questions that have a default with no other answer, or with those of the channel before. None of
#: them is about hardware.
WITH_DEFAULT = {
    "readings_file", "fitted",
    "title", "place", "plan_clock", "gives", "dawn", "dusk", "ramp_minutes", "peak_light_percent",
    "moonlight",
}  # fmt: skip

#: Where the schema has the range of a number that is asked for.
RANGES = {
    "rows": ("controller", "setpoints_per_channel"),
    "on_level_percent": ("relay_follows", "on_level_percent"),
    "bits": ("converter_nominal", "bits"),
    "full_scale_volts": ("converter_nominal", "full_scale_volts"),
    "floor_volts": ("floor", "volts"),
    "full_volts": ("ballast", "full_volts"),
    "standby_volts": ("dark_standby", "below_volts"),
    "ballast_count": ("channel", "ballast_count"),
    "tube_watts": ("tube", "watts"),
    "burn_in_hours": ("tube", "burn_in_full_hours"),
    "ppfd_max": ("zone", "ppfd_max"),
    "moon_light_percent": ("moonlight_steady", "light_percent"),
}

#: Where it has the words to choose from.
WORDS = {
    "between": ("controller", "between"),
    "after_last_row": ("controller", "after_last_row"),
    "clock": ("clock", None),
}

#: Where it has variants.
KINDS = {"relay": "relay", "dark": "dark", "moonlight": "moonlight", "response": "response"}


def of_schema(name: str, key: str | None) -> Any:
    found = load_schema("schedule")["$defs"][name]
    return found if key is None else found["properties"][key]


def test_every_question_explains_itself() -> None:
    for question in QUESTIONS:
        with naming(question.name):
            assert len(question.help) > 10 and question.help.endswith(".")
            assert question.help != question.text and question.form.words
            assert not question.text.endswith(("?", "."))
            question.text.format(subject="a", channel="b", zone="c")
            about = {Each.FILE: "", Each.READING: "{channel}"}.get(question.each, "{subject}")
            assert about in question.text
    assert len(BY_NAME) == len(QUESTIONS)


def test_pages_are_in_order_and_short() -> None:
    pages = [question.page for question in QUESTIONS]
    assert sorted(pages, key=list(Page).index) == pages
    assert set(pages) == set(Page)
    for page in Page:
        assert pages.count(page) <= 11


def test_nothing_about_hardware_has_a_default() -> None:
    answers = {("channels", ""): ("a", "b"), ("clock", ""): "civil"}
    answers |= {(name, "a"): "x" for name in BY_NAME}
    has = {q.name for q in QUESTIONS if q.default(answers, "b") is not None}
    assert has == WITH_DEFAULT
    assert all(q.default({}, "") is None for q in QUESTIONS if q.page is Page.BALLASTS)


@pytest.mark.parametrize("name", RANGES)
def test_numbers_have_the_ranges_of_the_schema(name: str) -> None:
    schema, read = of_schema(*RANGES[name]), BY_NAME[name].form.read
    assert read(str(schema["maximum"])) == schema["maximum"]
    with pytest.raises(NotInForm):
        read(str(schema["maximum"] + 1))
    least = schema.get("minimum", schema.get("exclusiveMinimum"))
    if "minimum" in schema:
        assert read(str(least)) == least
        with pytest.raises(NotInForm):
            read(str(least - 1))
    else:
        with pytest.raises(NotInForm):
            read(str(least))


def test_words_to_choose_from_are_those_of_the_schema() -> None:
    for name, place in WORDS.items():
        assert list(BY_NAME[name].form.choices) == of_schema(*place)["enum"], name
    for name, kind in KINDS.items():
        assert set(BY_NAME[name].form.choices) <= set(kinds_of(kind)), name
        left_out = set(kinds_of(kind)) - set(BY_NAME[name].form.choices)
        # points that were measured are typed in later, from readings
        assert left_out <= {"measured", "swept"}, name


def kinds_of(name: str) -> list[str]:
    """Return the words that the key `kind` of a variant can have."""
    defs = load_schema("schedule")["$defs"]
    text = str(defs[name])
    return [
        each["properties"]["kind"]["const"]
        for key, each in defs.items()
        if f"'#/$defs/{key}'" in text and "const" in each.get("properties", {}).get("kind", {})
    ]


def test_what_a_question_is_asked_for() -> None:
    answers = {
        ("ballasts", ""): ("pair",),
        ("channels", ""): ("blue", "white"),
        ("zones", ""): ("crest", "sand"),
    }
    assert subjects(Each.FILE, {}) == ("",)
    assert subjects(Each.BALLAST, answers) == ("pair",)
    assert subjects(Each.CHANNEL, answers) == ("blue", "white")
    assert subjects(Each.ZONE, answers) == ("crest", "sand")
    assert subjects(Each.READING, answers) == (
        "blue/crest",
        "blue/sand",
        "white/crest",
        "white/sand",
    )
    assert subjects(Each.ZONE, {("zones", ""): "later"}) == ()
