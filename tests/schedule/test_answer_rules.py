from __future__ import annotations

import pytest

from photoperiod.schedule import answer_rules as rules
from photoperiod.schedule.questions import BY_NAME
from tests.conftest import naming
from tests.schedule.talking import TYPED, answered, key_of, talked

#: Answers, the question whose answer can't stand beside them, and words of the reason.
OBJECTIONS = [
    ({"full_volts": "1"}, "full_volts", "more volts than the floor, which has 1 V"),
    ({"full_volts": "1.01"}, "full_volts", ""),
    ({"dark": "standby", "standby_volts": "1.1", "keeps_mains": "no"}, "standby_volts", "which are 1 V"),
    ({"dark": "standby", "standby_volts": "1", "keeps_mains": "no"}, "standby_volts", ""),
    ({"full_scale_volts": "1"}, "floor_volts", "the port reaches 1 V"),
    ({"full_scale_volts": "1.1"}, "floor_volts", ""),
    ({"relay": "none"}, "dark", "switches no mains"),
    ({"level_step": "0.3 %"}, "level_step", "must divide 10 V"),
    ({"level_step": "0.1 %"}, "level_step", ""),
    ({"level_step": "30 mV"}, "level_step", "must divide 10 V"),
    ({"level_step": "1.5 code"}, "level_step", "whole codes"),
    ({"level_step": "3 code"}, "level_step", ""),
    ({"time_step_minutes": "7"}, "time_step_minutes", "divide 24 hours"),
    ({"time_step_minutes": "1 s"}, "time_step_minutes", ""),
    ({"dawn": "sunrise"}, "dawn", "where the tank stands"),
    ({"dusk": "sunset"}, "dusk", "where the tank stands"),
    ({"dusk": "09:00"}, "dusk", "not after dawn at 09:00"),
    ({"dusk": "02:00"}, "dusk", "write 02:00 next day"),
    ({"dusk": "02:00 next day"}, "dusk", ""),
    ({"dusk": "09:00 next day"}, "dusk", ""),
    ({"dusk": "09:01 next day"}, "dusk", "more than 24 hours"),
    ({"ramp_minutes": "361"}, "ramp_minutes", "two ramps of 360 minutes"),
    ({"ramp_minutes": "360"}, "ramp_minutes", ""),
    ({"gives": "moon", "moonlight": "phase"}, "moonlight", "where the tank stands"),
    ({"gives": "moon", "moon_light_percent": "2", "moon_start": "22:00", "moon_end": "22:00"}, "moon_end",
    "begins"),
    ({"gives": "moon", "moon_light_percent": "2", "moon_start": "22:00", "moon_end": "sunrise"}, "moon_end",
     "where the tank stands"),
    ({"gives": "moon", "moon_light_percent": "2", "moon_start": "22:00", "moon_end": "21:59"}, "moon_end",
    ""),
    ({"ballasts": "pair, strip", "ballast": "stirp"}, "ballast", "among pair, strip"),
]  # fmt: skip


def test_answers_that_can_not_stand_beside_the_others() -> None:
    for changes, name, words in OBJECTIONS:
        with naming((changes, name)):
            talk = talked(**changes)
            talk.take_defaults()
            item = talk.current()
            if not words:
                assert item is None
                continue
            assert item is not None and item.question.name == name
            assert words in talk.objection(item)


def test_a_reading_is_not_older_than_the_tubes() -> None:
    typed = {
        **{"zones": "crest", "dli": "later", "ppfd_max": "later", "full_ppfd": "100"},
        **{"burn_in_hours@blue": "12", "fitted@blue": "2027-03-02 08:00"},
    }
    talk = talked(**typed, measured_on="2027-03-01")
    talk.take_defaults()
    item = talk.current()
    assert item is not None and item.question.name == "measured_on"
    assert "tubes of 'blue' were fitted later" in talk.objection(item)
    answered(**typed, measured_on="2027-03-02")
    answered(**typed, measured_on="later")


#: Questions, the answers that make them meaningless, and answers that do not.
MOOT = [
    ("time_zone", {}, {"place": "38 N 29 W"}),
    ("on_level_percent", {}, {"relay": "follows-level"}),
    ("plan_clock", {"clock": "civil"}, {"place": "38 N 29 W", "clock": "civil"}),
    ("plan_clock", {"place": "38 N 29 W"}, {"place": "38 N 29 W", "clock": "utc"}),
    ("standby_volts@pair", {}, {"dark": "standby"}),
    ("keeps_mains@pair", {"dark": "standby", "relay": "none"}, {"dark": "standby"}),
    ("ballast@blue", {}, {"ballasts": "pair, strip"}),
    ("tube_watts@blue", {"tubes": "0"}, {"tubes": "2"}),
    ("tube_watts@blue", {}, {"tubes": "2"}),
    ("burn_in_hours@blue", {"tubes": "0"}, {}),
    ("burn_in_hours@blue", {"dark": "never"}, {}),
    ("fitted@blue", {"tubes": "0"}, {"burn_in_hours": "0"}),
    ("lit_night_because@blue", {}, {"dark": "never"}),
    ("sweep_file@pair", {}, {"response": "swept"}),
    ("readings_file", {}, {"zones": "crest"}),
    ("full_ppfd@blue/crest", {"zones": "crest", "readings_file": "r.csv"}, {"zones": "crest"}),
    ("measured_on", {}, {"zones": "crest", "full_ppfd": "100"}),
    ("measured_on", {"zones": "crest", "full_ppfd": "later"}, {"zones": "crest", "full_ppfd": "0"}),
    ("dawn@blue", {"gives": "moon"}, {"gives": "both"}),
    ("moon_end@blue", {"gives": "day"}, {"gives": "both"}),
]


def test_questions_that_other_answers_make_meaningless() -> None:
    for name, without, with_ in MOOT:
        with naming((name, without, with_)):
            key = key_of(name)
            question = BY_NAME[key[0]]
            for changes, is_moot in ((without, True), (with_, False)):
                talk = talked(**changes)
                assert question.is_moot(talk.answers, key[1]) is is_moot, changes


def test_what_answers_name() -> None:
    answers = answered(ballasts="pair, strip", ballast="pair", **{"ballast@white": "strip"})
    assert rules.names(answers, "ballasts") == ("pair", "strip")
    assert rules.ballast_of(answers, "white") == "strip"
    assert rules.names(answered(), "zones") == ()
    assert rules.readings({("channels", ""): ("a", "b"), ("zones", ""): ("x",)}) == ("a/x", "b/x")


@pytest.mark.parametrize(
    ("tubes", "count", "watts"), [("2 x 54 W", 2, 54.0), ("6", 6, 39.0), ("0", 0, 0)]
)
def test_the_watts_of_a_tube_are_those_of_the_question_that_was_answered(
    tubes: str, count: int, watts: float
) -> None:
    answers = answered(tubes=tubes, tube_watts="39")
    assert rules.tube_count(answers, "blue") == count
    assert rules.tube_watts(answers, "blue") == watts


def test_a_channel_begins_with_the_answers_of_the_one_before() -> None:
    default = rules.like_the_channel_before("dawn")
    answers = {("channels", ""): ("a", "b", "c"), ("dawn", "a"): "09:00"}
    assert default(answers, "a") is None
    assert default(answers, "c") == "09:00"
    assert default(answers | {("dawn", "b"): "10:00"}, "c") == "10:00"


def test_the_usual_answers_are_complete_and_each_is_needed() -> None:
    answered()
    optional = {"title"}
    for name in TYPED.keys() - optional:
        talk = talked()
        del talk._given[name, ""]
        fresh = type(talk)(talk._given)
        fresh.take_defaults()
        assert fresh.current() is not None, name
