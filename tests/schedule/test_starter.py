from __future__ import annotations

from typing import Any

import pytest

from photoperiod.api import load_text
from photoperiod.drive.ballast import DarkKind
from photoperiod.schedule.starter import QUESTIONS, is_moot, starter_text

ANSWERS: dict[str, Any] = {
    "tank": "my-tank", "title": "My tank", "rows": 10, "time_step_minutes": 1.0, "level_step_percent": 1.0,
    "between": "line", "after_last_row": "wrap", "relay": "column", "clock": "standard", "bits": 12,
    "full_scale_volts": 10.0, "response": "square-law", "floor_volts": 1.0,
    "floor_light_percent": 1.0, "full_volts": 10.0, "dark": "relay", "standby_volts": 0.5,
    "channels": "blue, white", "tubes": 2, "tube_watts": 54.0, "dawn": "09:00", "dusk": "21:00",
    "ramp_minutes": 60, "peak_light_percent": 80.0,
}  # fmt: skip


def test_every_question_is_answered_here() -> None:
    assert {question.name for question in QUESTIONS} == set(ANSWERS)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"tubes": 0},
        {"dark": "standby"},
        {"title": 'Reef "2" \\ north'},
        *({q.name: choice} for q in QUESTIONS for choice in q.choices if q.name != "relay"),
        {"relay": "none", "dark": "never"},
    ],
)
def test_a_first_schedule_has_no_fault_and_holds_the_answers(changes: dict[str, Any]) -> None:
    answers = ANSWERS | changes
    schedule = load_text("x", starter_text(answers, "x.json").encode()).schedule
    assert (schedule.tank, schedule.title) == ("my-tank", answers["title"])
    assert list(schedule.channels) == ["blue", "white"]
    assert len(schedule.tubes) == 2 * answers["tubes"]
    curve = schedule.ballasts["ballast"].curve
    assert curve.dark == answers["dark"] and curve.kind == answers["response"]
    assert curve.standby_volts == (0.5 if curve.dark is DarkKind.STANDBY else 0.0)
    assert schedule.controller.times.between == answers["between"]
    assert schedule.plan_clock == schedule.controller.clock == answers["clock"]


def test_questions_that_an_answer_makes_meaningless() -> None:
    assert is_moot("standby_volts", {"dark": "relay"})
    assert not is_moot("standby_volts", {"dark": "standby"})
    assert is_moot("tube_watts", {"tubes": 0}) and not is_moot("tube_watts", {"tubes": 1})
    assert not is_moot("rows", {})
