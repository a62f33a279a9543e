"""What readings tell, as text."""

from __future__ import annotations

import math

from photoperiod.readings.extent import Box
from photoperiod.readings.fade import fade_of
from photoperiod.readings.fall_off import FallOff, LightAtDepth
from photoperiod.readings.faults import Faults
from photoperiod.readings.lines import WAY_INTO_ZONES, Lines, Meant, lines_of
from photoperiod.readings.straight_line import Slope
from photoperiod.readings.sweep import sweep_of
from photoperiod.report.readings import (
    OF_THE_TANK,
    OF_THE_WATER,
    depth_text,
    fade_text,
    map_text,
    sweep_text,
)
from tests.readings.bench import map_of, readings_of


def test_a_map_has_a_line_for_each_zone_and_channel() -> None:
    found = map_of("1,1,5,blue,100,100,yes,", "2,1,5,blue,100,140,yes,", "9,1,9,white,100,60,yes,")
    assert found.readings is not None and found.map is not None
    zones = {"crest": Box(x_cm=(0, 5), y_cm=(0, 5), depth_cm=(0, 5)), "sand": None}
    pasted = {
        "blue": Lines(keys={"readings": "reef/map.csv"}),
        "white": Lines(why_not="a", way_out="b"),
    }
    lines = map_text(
        found.readings, found.map, Meant(zones=zones), pasted, "reef.yaml"
    ).splitlines()
    assert lines[0].startswith("3 readings at 3 points; PPFD in µmol m⁻² s⁻¹")
    # by hand: mean 120, least 100, uniformity 100/120 = 0.83
    rows = [line.split() for line in lines]
    assert ["crest", "blue", "2", "120", "100", "140", "0.83"] in rows
    assert not any(row[:1] == ["sand"] for row in rows)
    assert ["all", "points", "white", "1", "60", "60", "60", "1.00"] in rows
    assert lines[-7:] == [
        "Nothing to paste yet for white: a.", "Try: b.", "",
        "To use it, write under channel blue of reef.yaml:", "",
        "full_ppfd:", "  readings: reef/map.csv",
    ]  # fmt: skip


def test_a_map_says_what_is_in_no_zone() -> None:
    found = map_of("1,1,5,blue,100,100,yes,", "9,1,9,white,100,60,yes,")
    assert found.readings is not None and found.map is not None
    crest, all = (Box(x_cm=(0, most), y_cm=(0, 5), depth_cm=(0, 9)) for most in (5, 9))

    def told(**zones: Box | None) -> str:
        assert found.readings is not None and found.map is not None
        meant = Meant(zones=zones, file="map.csv")
        lines = lines_of(found.readings, found.map, meant)
        return map_text(found.readings, found.map, meant, lines, None)

    both = told(crest=all)
    assert WAY_INTO_ZONES not in both and "Nothing to paste" not in both
    assert (
        "write under channels blue and white of a schedule in this folder that has zone crest:"
        in both
    )
    nothing = told()
    assert "Nothing to paste yet for blue and white: no zone is known here." in nothing
    assert "full_ppfd:" not in nothing
    one = told(crest=crest)
    assert "Nothing to paste yet for white: no reading of it is in a zone." in one
    assert "write under channel blue of" in one and "No reading is in" not in one
    none = told(crest=None, sand=None)
    assert "yet for blue and white: no reading of it" in none and "No reading is in" not in none
    empty = told(crest=all, sand=None)
    assert "No reading is in sand, so no limit there is called kept:\n" in empty
    assert "Nothing to paste" not in empty


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


def test_a_series_tells_loss_and_date() -> None:
    # e^(−2e-5 t): 1.98 % within 1,000 h; 80 % after 100 + ln(1/0.8)/2e-5 = 11,257 h
    rows = [
        f"2026-0{m}-01,{100 + 300 * m},{120 * math.exp(-2e-5 * 300 * m):.6f}" for m in range(1, 9)
    ]
    readings = readings_of(*rows, head="date,lit_hours,ppfd_umol_m2_s", use="series")
    fade = fade_of(readings, Faults())
    assert fade is not None
    text = fade_text(readings, fade, 0.8)
    assert "loss within 1,000 h   1.98 %, with 95 % confidence from 1.98 to 1.98 %" in text
    assert "below 80 % of that    at 11257 lit hours, on 20" in text
    assert text.endswith("depreciation: {kind: exponential, loss_percent_per_1000_h: 1.98}\n")
    assert "not told: that is farther off than 6 times" in fade_text(readings, fade, 0.4)


def test_a_series_without_a_loss_says_so() -> None:
    rows = [f"{100 + 300 * m},{120 + (-1) ** m}" for m in range(8)]
    readings = readings_of(*rows, head="lit_hours,ppfd_umol_m2_s", use="series")
    fade = fade_of(readings, Faults())
    assert fade is not None
    assert "do not show that the tubes fade at all" in fade_text(readings, fade, 0.8)


def fall_off(*, is_attenuation: bool) -> FallOff:
    slope = Slope(2.27, 2.202, 2.338)
    return FallOff(per_m=slope, columns=36, points=180, is_attenuation=is_attenuation)


def test_a_fall_off_is_never_called_attenuation() -> None:
    text = depth_text({"blue": fall_off(is_attenuation=False)}, {}, None)
    assert "fall-off per metre (95 % confidence)" in text.splitlines()[0]
    assert "blue     36      180       2.27 (2.202 to 2.338)" in text
    assert OF_THE_TANK in text
    text = depth_text({"blue": fall_off(is_attenuation=True)}, {}, None)
    assert "attenuation per metre" in text.splitlines()[0]
    assert OF_THE_WATER in text


def test_light_beyond_the_readings_says_so() -> None:
    told = {"blue": fall_off(is_attenuation=False)}
    places = [LightAtDepth(10, 5, 89.87, True), LightAtDepth(10, 15, 134.06, False)]
    lines = depth_text(told, {"blue": places}, 40).splitlines()
    assert lines[-2].split() == ["blue", "10", "5", "89.9", "beyond", "the", "readings"]
    assert lines[-1].split() == ["blue", "10", "15", "134.1"]
    assert "not told (see --beyond)" in depth_text(told, {"blue": []}, 40)
