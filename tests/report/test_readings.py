"""What readings tell, as text."""

from __future__ import annotations

from photoperiod.readings.extent import Box
from photoperiod.readings.faults import Faults
from photoperiod.readings.sweep import sweep_of
from photoperiod.report.readings import map_text, sweep_text
from tests.readings.bench import map_of, readings_of


def test_a_map_has_a_line_for_each_zone_and_channel() -> None:
    found = map_of("1,1,5,blue,100,100,yes,", "2,1,5,blue,100,140,yes,", "9,1,9,white,100,60,yes,")
    assert found.readings is not None and found.map is not None
    zones = {"crest": Box(x_cm=(0, 5), y_cm=(0, 5), depth_cm=(0, 5)), "sand": None}
    lines = map_text(found.readings, found.map, zones, "reef/map.csv").splitlines()
    assert lines[0].startswith("3 readings at 3 points; PPFD in µmol m⁻² s⁻¹")
    # by hand: mean 120, least 100, uniformity 100/120 = 0.83
    rows = [line.split() for line in lines]
    assert ["crest", "blue", "2", "120", "100", "140", "0.83"] in rows
    assert not any(row[:1] == ["sand"] for row in rows)
    assert ["all", "points", "white", "1", "60", "60", "60", "1.00"] in rows
    assert lines[-2:] == [
        "  readings: reef/map.csv", f"  readings_sha256: {found.readings.table.sha256}",
    ]  # fmt: skip


def test_a_sweep_tells_floor_full_noise_and_laws() -> None:
    rows = [f"{v / 2},{200 * max(v / 20, 0.1) ** 2:.2f}" for v in range(1, 21)]
    readings = readings_of("0.2,0", *rows, "5,51", head="volts,ppfd_umol_m2_s", use="sweep")
    sweep = sweep_of(readings, Faults())
    assert sweep is not None
    text = sweep_text(readings, sweep)
    for line in (
        "floor   1 % of full, up to 1 V",
        "full    from 10 V on",
        "dark    at and below 0.2 V",
        # by hand: 50 and 51 of 200 at 5 V: off by ½ each, (0.5² + 0.5²)/1 degree of freedom, √0.5 = 0.35 %
        "noise   one reading is off by 0.35 % of full (standard deviation)",
        "best    square-law: off by",
        "response:",
        "full_volts: 10",
    ):
        assert line in text
