from __future__ import annotations

import datetime as dt
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.schedule import answer_forms as forms
from photoperiod.schedule.answer_forms import Form, NotInForm
from photoperiod.schedule.questions import QUESTIONS
from tests.conftest import drawn, naming

VOLTS = forms.number("volts {bounds}", 0, 10, forms.VOLTS)
WATTS = forms.number("watts {bounds}", 0, 500, forms.WATTS, is_above_least=True)
LIGHT = forms.number("% {bounds}", 0, 100, forms.PERCENT)
ROWS = forms.number("a whole number {bounds}", 1, 1440, forms.ROWS, is_whole=True)
PPFD = forms.or_word(
    forms.number("PPFD {bounds}", 0, 5000, forms.PPFD), forms.LATER, forms.LIKE_LATER
)
MINUTES = forms.minutes("minutes {bounds}", 0, 720)
START = forms.time_of_day()
END = forms.time_of_day(is_end=True, has_next_day=True)
BAND = forms.band("least to most", 200)
BETWEEN = forms.choice({"line": ("ramp",), "hold": ("step",)})
RESPONSE = forms.choice({"linear": (), "log-law": ("log",)})

#: What is typed, and what it means: by the words alone, without a look at the code.
TAKEN = [
    (VOLTS, "8.5", 8.5), (VOLTS, "8,5", 8.5), (VOLTS, "1,0", 1.0), (VOLTS, "0,125", 0.125),
    (VOLTS, ".5", 0.5),
    (VOLTS, "1 V", 1.0), (VOLTS, "1volt", 1.0), (VOLTS, " 500 mV ", 0.5), (VOLTS, "８．５", 8.5),
    (WATTS, "54W", 54.0), (WATTS, "54 watts", 54.0), (WATTS, "54", 54.0),
    (LIGHT, "80%", 80.0), (LIGHT, "80 %", 80.0), (LIGHT, "80 percent", 80.0), (LIGHT, "80 per cent", 80.0),
    (ROWS, "12", 12), (ROWS, "12 rows", 12), (ROWS, "12.0", 12),
    (PPFD, "130", 130.0), (PPFD, "130 µmol m⁻² s⁻¹", 130.0), (PPFD, "130 PAR", 130.0),
    (PPFD, "130 µmol/m²/s", 130.0), (PPFD, "Later", "later"), (PPFD, "don't know", "later"),
    (PPFD, "don’t know", "later"),
    (MINUTES, "90", 90.0), (MINUTES, "90 min", 90.0), (MINUTES, "1.5 h", 90.0), (MINUTES, "1,5h", 90.0),
    (MINUTES, "10 h", 600.0), (MINUTES, "1h30", 90.0), (MINUTES, "1 h 30 min", 90.0), (MINUTES, "30 s", 0.5),
    (START, "09:00", "09:00"), (START, "9:00", "09:00"), (START, "9.30", "09:30"), (START, "9am", "09:00"),
    (START, "9 AM", "09:00"), (START, "12am", "00:00"), (START, "12 p.m.", "12:00"), (START, "0930", "09:30"),
    (START, "9h", "09:00"), (START, "9h30", "09:30"), (START, "09:30:15", "09:30:15"),
    (START, "midnight", "00:00"), (START, "sunrise", "sunrise"), (START, "Sunrise + 30", "sunrise + 30 min"),
    (START, "civil dawn-30min", "civil dawn - 30 min"), (START, "sunrise – 1 h", "sunrise - 60 min"),
    (END, "9pm", "21:00"), (END, "21.00", "21:00"), (END, "midnight", "24:00"), (END, "24:00", "24:00"),
    (END, "8am next day", "08:00 next day"),
    (BAND, "8 to 12", (8.0, 12.0)), (BAND, "8-12", (8.0, 12.0)), (BAND, "8 – 12", (8.0, 12.0)),
    (BAND, "[8, 12]", (8.0, 12.0)), (BAND, "8,5 - 12,5", (8.5, 12.5)), (BAND, "8 12", (8.0, 12.0)),
    (BETWEEN, "Line", "line"), (BETWEEN, "l", "line"), (BETWEEN, "step", "hold"),
    (RESPONSE, "log", "log-law"),
    (forms.level_step(), "1%", ("percent", "1")), (forms.level_step(), "0,5 %", ("percent", "0.5")),
    (forms.level_step(), "20 mV", ("millivolts", "20")), (forms.level_step(), "0.02 V", ("millivolts", "20")),
    (forms.level_step(), "2 codes", ("code", "2")),
    (forms.tubes(), "2", (2.0,)), (forms.tubes(), "2 tubes", (2.0,)), (forms.tubes(), "none", (0.0,)),
    (forms.tubes(), "2 x 54 W", (2.0, 54.0)), (forms.tubes(), "6×54", (6.0, 54.0)),
    (forms.tubes(), "2 * 39,5w", (2.0, 39.5)),
    (forms.place(), "38.10 N 29.50 W", (38.1, -29.5)), (forms.place(), "38.10, -29.50", (38.1, -29.5)),
    (forms.place(), "38,1 N; 29,5 W", (38.1, -29.5)), (forms.place(), "18.5° S, 152° W", (-18.5, -152.0)),
    (forms.place(), "38.1,−29.5", (38.1, -29.5)),
    (forms.time_zone(), "atlantic/azores", "Atlantic/Azores"),
    (forms.id_("x"), "Teaching Reef", "teaching-reef"), (forms.id_("x"), "Açores_1", "acores-1"),
    (forms.ids("x"), "blue, white", ("blue", "white")), (forms.ids("x"), "blue and white", ("blue", "white")),
    (forms.ids("x"), "Royal Blue, white", ("royal-blue", "white")), (forms.ids("x"), "blue", ("blue",)),
    (forms.date(), "2027-03-02", "2027-03-02"),
    (forms.date(has_time=True), "2027-03-02 08:00", "2027-03-02T08:00"),
    (forms.label("text"), " A title: 50 % # ", "A title: 50 % #"),
]  # fmt: skip

#: What is typed, and a word of the reason why it is not taken.
REFUSED = [
    (VOLTS, "", ""), (VOLTS, "1,000", "1000 or 1.000"), (VOLTS, "11", "from 0 to 10"),
    (VOLTS, "-1", "from 0"),
    (VOLTS, "1e0", ""), (VOLTS, "nan", ""), (VOLTS, "5 W", ""), (VOLTS, "5 6", ""), (VOLTS, "½", ""),
    (WATTS, "0", "above 0"), (ROWS, "1.5", "whole"), (LIGHT, "101", "from 0 to 100"), (PPFD, "9000 lux", ""),
    (MINUTES, "1:30", ""), (MINUTES, "13 h", "720"),
    (START, "9", "morning or evening"), (START, "13pm", "no 13 pm"), (START, "0 am", "no 0 am"),
    (START, "90", "no clock shows 90"), (START, "21", "minutes"), (START, "0", "minutes"),
    (END, "24", "minutes"),
    (START, "12", "morning or evening"), (START, "25:00", "no clock"),
    (START, "24:00", "no clock"), (START, "09:60", "no clock"),
    (START, "9:5", ""),
    (START, "sunrise + 17 h", "999 minutes"), (START, "8am next day", ""), (END, "sunset next day", ""),
    (BAND, "12 to 8", "smaller"), (BAND, "8,12", ""), (BAND, "8", "one number"),
    (BETWEEN, "hodl", "did you mean hold"), (BETWEEN, "", ""), (RESPONSE, "l", ""),
    (forms.level_step(), "1", "say the unit"), (forms.level_step(), "0 %", "no step"),
    (forms.tubes(), "54W", "how many"), (forms.tubes(), "17", "more than 16"),
    (forms.tubes(), "2 x 0 W", "above 0"),
    (forms.place(), "38,1", ""), (forms.place(), "29 W 38 N", ""), (forms.place(), "91 0", "at most 90"),
    (forms.time_zone(), "Azores", "Atlantic/Azores"), (forms.time_zone(), "Mars", ""),
    (forms.ids("x"), "blue, blue", "twice"), (forms.ids("x"), "later", "a word of these"),
    (forms.ids("x"), "Null", "meaning of its own"),
    (forms.ids("x"), "../x", "other characters"), (forms.ids("x"), "1st", "begin with a letter"),
    (forms.ids("x"), " , ", ""), (forms.id_("x"), "日本", "other characters"),
    (forms.date(), "2.3.2027", ""), (forms.date(), "2027-02-29", "no such date"),
    (forms.date(), "2027-03-02 08:00", ""),
    (forms.label("text"), "x" * 201, "201"), (forms.label("text"), "a\x1b[2Jb", "can't be shown"),
    (forms.label("a reason", 8), "algae", "5 characters"),
]  # fmt: skip


def test_what_keepers_type_is_taken() -> None:
    for form, typed, value in TAKEN:
        with naming(typed):
            assert form.read(typed) == value
            assert type(form.read(typed)) is type(value)


def test_what_is_not_in_the_form_or_could_mean_two_things_is_refused() -> None:
    for form, typed, word in REFUSED:
        with naming(typed), pytest.raises(NotInForm) as refusal:
            form.read(typed)
        assert word in str(refusal.value), typed


def test_the_plain_form_of_an_answer_is_the_same_answer() -> None:
    for form, typed, value in TAKEN:
        with naming(typed):
            assert form.read(form.show(value)) == value


#: Pieces of which answers are made, so that random text comes near to them.
PIECES = [
    *("9", "21", "30", "1", "0", ":", ".", ",", " ", "am", "pm", "h", "min", "V", "W", "%", "x", "-", "to"),
    *("+", "sunrise", "noon", "next day", "later", "N", "blue", "and", "mV", "µmol", "°", "T", "2027-03-02"),
]  # fmt: skip
TEXTS = st.one_of(st.text(max_size=30), st.lists(st.sampled_from(PIECES), max_size=7).map("".join))


@settings(max_examples=drawn(60))
@given(TEXTS)
def test_no_text_is_answered_by_anything_but_a_value_or_a_refusal(text: str) -> None:
    for question in QUESTIONS:
        form = question.form
        with naming((question.name, text)):
            try:
                value = form.read(text)
            except NotInForm:
                continue
            assert form.read(form.show(value)) == value


@settings(max_examples=drawn(60))
@given(st.times().map(lambda time: time.replace(second=0, microsecond=0)))
def test_every_time_is_taken_in_the_forms_of_the_standard_library(time: dt.time) -> None:
    for pattern in ("%H:%M", "%I:%M %p", "%I.%M%p", "%Hh%M", "%H.%M", "%H%M"):
        typed = time.strftime(pattern)
        assert START.read(typed) == time.strftime("%H:%M"), typed
        assert START.read(typed.lower()) == time.strftime("%H:%M"), typed


@settings(max_examples=drawn(60))
@given(st.decimals(0, 10, places=3))
def test_every_number_is_taken_with_a_point_and_with_a_comma(number: object) -> None:
    point = str(number)
    assert VOLTS.read(point) == float(point)
    comma = point.replace(".", ",")
    if re.fullmatch(r"[1-9]\d*,\d{3}", comma):
        with pytest.raises(NotInForm, match="can mean"):
            VOLTS.read(comma)
    else:
        assert VOLTS.read(comma) == float(point)


@pytest.mark.parametrize(("clock", "value"), [("09:00", 540), ("24:00", 1440), ("02:00 next day", 1560),
                                              ("00:00:30", 0.5)])  # fmt: skip
def test_minutes_of_a_clock_time(clock: str, value: float) -> None:
    assert forms.minutes_of(clock) == value
    assert forms.is_clock(clock)
    assert not forms.is_clock("sunrise") and not forms.is_clock(None)


def test_a_word_that_may_stand_instead_is_named() -> None:
    form: Form = forms.or_word(LIGHT, "none", ("no",))
    assert form.word == "none" and form.words.endswith("; or none")
    assert form.read("No") == "none" and form.show("none") == "none"


def test_a_path_is_that_from_the_folder_of_the_schedule() -> None:
    form = forms.path("sweep.csv")
    assert form.words.endswith("such as sweep.csv")
    assert form.read(" light/riff 1.csv ") == "light/riff 1.csv"
    for text in ("", " ", "/etc/x.csv", "C:\\x.csv", "a\nb", "x" * 401):
        with pytest.raises(NotInForm):
            form.read(text)
