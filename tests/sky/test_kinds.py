from __future__ import annotations

import pytest

from photoperiod.sky.kinds import SunEvent
from photoperiod.sky.sun import EVENTS


def test_all_events_of_the_sun_but_noon_have_a_height() -> None:
    assert {event.replace(" ", "-") for event in SunEvent} == {*EVENTS, "noon"}


@pytest.mark.parametrize("event", SunEvent)
def test_the_sun_sinks_in_the_evening(event: SunEvent) -> None:
    if event is not SunEvent.NOON:
        _, is_rising = EVENTS[event.replace(" ", "-")]
        assert event.is_evening is not is_rising
    else:
        assert not event.is_evening
