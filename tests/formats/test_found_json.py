"""What was found, as JSON."""

from __future__ import annotations

from photoperiod.drive.grid import Row
from photoperiod.formats.found_json import found_data
from photoperiod.schedule.moves import Found, FoundDay, FoundRows
from tests.schedule.test_found_text import ASKED, BAND, DOSE, FOUND


def test_doses_days_and_rows_are_told_with_their_units() -> None:
    a, b = Row(32_400, 30, True), Row(36_000, 80, True)
    rows = FoundRows(channel="blue", fitted=(a, b), moved=(Row(32_400, 31, True), b))
    day = FoundDay(channel="blue", asked=ASKED, found=FOUND)
    data = found_data(Found(doses=(DOSE, BAND), days=(day,), rows=(rows,)))
    assert data["doses"][0] == {
        "zone": "crest",
        "wanted_mol_m2_d": [7.0, 7.0],
        "within_mol_m2_d": 0.021,
        "dli_mol_m2_d": 7.0123,
    }
    assert data["days"][0]["peak_light_percent"] == {"file": 80, "found": 94.0844}
    assert data["rows_moved"] == {"blue": 1}
    assert data["lines_to_paste"][0] == "channels:"
