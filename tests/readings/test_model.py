from __future__ import annotations

from photoperiod.readings.columns import Quantity
from tests.readings.bench import readings_of


def test_a_reading_knows_its_line_and_the_places_of_its_values() -> None:
    readings = readings_of("1,2,3,blue,100,130,yes,", "1,2,4,blue+white,100,120,yes,")
    assert readings.line(1) == 3
    assert readings.place(1, Quantity.LIGHT) == (3, 22, 3, 25)
    assert readings.place(1, Quantity.ZONE) == (3, 1, 3, 2)  # no such column: its row
    assert readings.with_channel("white") == [1]
    assert readings.with_channel("blue") == [0, 1]


def test_a_position_has_three_coordinates() -> None:
    head = "x_cm,y_cm,depth_cm,zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied"
    readings = readings_of("1,2,3,a,blue,100,1,yes", "1,,3,a,blue,100,1,yes", head=head)
    assert readings.has_position.tolist() == [True, False]
