"""Alarms are shown once when they begin and once when they end."""

from __future__ import annotations

import pytest

from photoperiod.board.alarms import AlarmKey, Alarms


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def alarms(said: list[str]) -> Alarms:
    return Alarms(said.append)


def test_an_alarm_is_shown_when_it_begins_and_when_it_ends(alarms: Alarms, said: list[str]) -> None:
    assert alarms.set(AlarmKey.CLOCK, "it is wrong") is True
    assert alarms.set(AlarmKey.CLOCK, "it is wrong") is False
    assert alarms.clear(AlarmKey.CLOCK) is True
    assert alarms.clear(AlarmKey.CLOCK) is False
    assert said == ["alarm: it is wrong", "alarm over: it is wrong"]


def test_a_new_text_is_shown_but_is_no_new_alarm(alarms: Alarms, said: list[str]) -> None:
    alarms.set(AlarmKey.TABLE, "cut off")
    assert alarms.set(AlarmKey.TABLE, "of another version") is False
    assert said == ["alarm: cut off", "alarm: of another version"]
    assert alarms.texts == ["of another version"]


def test_active_alarms_are_listed_the_oldest_first(alarms: Alarms) -> None:
    for key in ("output of 'blue'", AlarmKey.LOG, AlarmKey.EXPIRED):
        alarms.set(key, f"text of {key}")
    alarms.clear(AlarmKey.LOG)
    assert alarms.texts == ["text of output of 'blue'", "text of expired"]


def test_the_version_changes_with_the_list_and_only_then(alarms: Alarms) -> None:
    versions = [alarms.version]
    for change in (
        lambda: alarms.set("a", "x"),
        lambda: alarms.set("a", "y"),
        lambda: alarms.set("a", "y"),
        lambda: alarms.clear("b"),
        lambda: alarms.clear("a"),
    ):
        change()
        versions.append(alarms.version)
    assert versions == [0, 1, 2, 2, 2, 3]
