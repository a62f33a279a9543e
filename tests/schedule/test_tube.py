from __future__ import annotations

from photoperiod.schedule.tube import Tube


def test_a_tube_has_its_own_place_and_counts_by_its_watts() -> None:
    tube = Tube(id="blue-a", watts=54)
    assert (tube.label, tube.place, tube.light_share) == ("blue-a", "blue-a", 54)
    assert tube.path == ("tubes", "blue-a")
    told = Tube(id="blue-a", watts=54, label="Left", place="left", light_share=1)
    assert (told.label, told.place, told.light_share) == ("Left", "left", 1)
