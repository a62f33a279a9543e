from __future__ import annotations

from typing import Any

import pytest

from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Zone
from photoperiod.schedule.zones import build_zone


def build(data: dict[str, Any]) -> tuple[Zone, Findings]:
    findings = Findings()
    return build_zone("crest", Cursor(data, ("zones", "crest"), frozenset()), findings), findings


def test_a_zone_with_everything() -> None:
    zone, findings = build(
        {
            "label": "Crest",
            "dli": [9, 14],
            "ppfd_max": 350,
            "ek_ppfd": 200,
            "ppfd_rise_per_minute_max": 3,
            "dark_hours_min": 9,
            "peak_rise_percent_max": 10,
        }
    )
    assert zone == Zone(
        id="crest", label="Crest", dli_band=(9.0, 14.0), ppfd_max=350.0, ek_ppfd=200.0,
        ppfd_rise_per_minute_max=3.0, dark_hours_min=9.0, peak_rise_max=0.1,
    )  # fmt: skip
    assert findings == []


def test_a_default_that_decides_something_is_noted() -> None:
    zone, findings = build({})
    assert zone == Zone(id="crest", label="crest", dark_hours_min=8.0, peak_rise_max=0.25)
    (note,) = findings
    assert (note.code, note.path, note.on_key) == ("PHO324", ("zones", "crest"), True)
    assert "8 h" in note.message


@pytest.mark.parametrize("band", [[9, 9], [0, 1]])
def test_a_band_may_be_of_no_width(band: list[int]) -> None:
    assert build({"dli": band})[0].dli_band == tuple(band)


def test_a_band_upside_down_is_refused() -> None:
    findings = Findings()
    cursor = Cursor({"dli": [14, 9]}, ("zones", "crest"), frozenset())
    with pytest.raises(AlreadyReported):
        build_zone("crest", cursor, findings)
    assert [(each.code, each.path) for each in findings] == [("PHO319", ("zones", "crest", "dli"))]
    assert findings[0].help == "write [9, 14]"
