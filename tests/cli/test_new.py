"""``photoperiod new``."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import Run

ANSWERS = {
    "tank": "north-wall",
    "title": 'Say "hello" \\ wave',
    "rows": 12,
    "between": "line",
    "after-last-row": "wrap",
    "relay": "column",
    "time-step-minutes": 1,
    "level-step-percent": 1,
    "clock": "standard",
    "bits": 12,
    "full-scale-volts": 10,
    "response": "square-law",
    "floor-volts": 1,
    "floor-light-percent": 1,
    "full-volts": 10,
    "dark": "relay",
    "channels": "blue, white",
    "tubes": 2,
    "tube-watts": 54,
    "dawn": "09:00",
    "dusk": "21:00",
    "ramp-minutes": 60,
    "peak-light-percent": 80,
}


def options(answers: dict[str, object]) -> list[object]:
    return [word for name, value in answers.items() for word in (f"--{name}", value)]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"dark": "standby", "standby-volts": 0.5, "relay": "none"},
        {"tubes": 0},
        {"between": "hold", "after-last-row": "hold", "clock": "utc", "response": "log-law"},
    ],
)
def test_new_writes_a_schedule_that_compiles(
    run: Run, tmp_path: Path, changes: dict[str, object]
) -> None:
    path = tmp_path / "tank.yaml"
    code, _, err = run("new", path, *options(ANSWERS | changes))
    assert code == 0, err
    assert run("compile", path, "-o", tmp_path / "out")[0] == 0
    code, _, err = run("new", path, *options(ANSWERS))
    assert code == 4
    assert "is there already" in err


def test_new_asks_for_what_was_not_said(run: Run) -> None:
    answers = dict(ANSWERS)
    del answers["response"], answers["floor-volts"]
    code, out, err = run("new", "-", *options(answers), stdin=b"cube-law\nlinear\n1.5\n")
    assert code == 0
    assert "response: {kind: linear}" in out
    assert "floor: {volts: 1.5, light_percent: 1.0}" in out
    assert "How does the light follow the volts" in err


def test_new_accepts_nothing_in_the_name_of_its_user(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "tank.yaml"
    assert run("new", path, *options(ANSWERS | {"dark": "never", "relay": "none"}))[0] == 0
    code, _, err = run("compile", path, "-o", tmp_path / "out")
    assert code == 1
    assert "error PHO403 night-not-dark" in err


@pytest.mark.parametrize(
    "change",
    [{"channels": "../x"}, {"rows": 0}, {"floor-volts": 11}, {"dawn": "10am"}, {"tubes": -2}],
)
def test_new_refuses_an_answer_at_its_question(
    run: Run, tmp_path: Path, change: dict[str, object]
) -> None:
    code, _, err = run("new", tmp_path / "t.yaml", *options(ANSWERS | change))
    assert code == 2
    assert f"'--{next(iter(change))}'" in err


def test_new_asks_again_for_an_answer_that_cannot_be(run: Run) -> None:
    answers = {name: value for name, value in ANSWERS.items() if name != "dawn"}
    code, out, err = run("new", "-", *options(answers), stdin=b"10am\n10:00\n")
    assert code == 0
    assert 'start: "10:00"' in out
    assert "'10am' is not in the form asked for" in err


def test_new_stops_when_nobody_answers(run: Run, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "tank.yaml")
    assert code == 130
    assert "can also be given as --tank, --title, --rows," in err
    assert err.endswith("interrupted\n")
    assert not (tmp_path / "tank.yaml").exists()


def test_new_refuses_answers_that_make_no_schedule(run: Run, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "t.yaml", *options(ANSWERS | {"dusk": "09:00"}))
    assert code == 1
    assert "PHO305" in err
    assert not (tmp_path / "t.yaml").exists()
