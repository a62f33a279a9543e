"""The circuit of the walk in ngspice: what it does, what the page says of it, and arithmetic by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

from tests.conftest import ROOT
from tests.targets.tools import tool
from tests.test_pictures import loaded

PAGE = (ROOT / "docs" / "walk.md").read_text(encoding="utf-8")
WRITTEN: dict[str, Any] = json.loads((ROOT / "docs" / "walk-circuit.json").read_text("utf-8"))

#: Versions of ngspice may differ by so much: a part of the figure, and in the unit of the figure.
SHARE, LEAST = 0.01, 0.005

FULL_SCALE_V, PULSES_HZ, FILTER_S = 9.9, 15_625, 0.022


@pytest.fixture(scope="module")
def circuit() -> Iterator[ModuleType]:
    tool("ngspice")
    with loaded("simulate_walk") as module:
        yield module


@pytest.fixture(scope="module")
def simulated(circuit: ModuleType) -> dict[str, Any]:
    found: dict[str, Any] = circuit.figures()
    return found


@pytest.mark.slow
def test_written_figures_are_what_the_simulator_finds(simulated: dict[str, Any]) -> None:
    assert simulated.keys() == WRITTEN.keys()
    for name, value in WRITTEN.items():
        found = simulated[name]
        if name == "swing_v":  # how far an unstable loop swings is not exact; that it does, is
            assert (
                [one > 0.1 for one in found] == [one > 0.1 for one in value] == [True, True, False]
            )
        else:
            assert found == pytest.approx(value, rel=SHARE, abs=LEAST), name


def test_page_says_what_was_simulated() -> None:
    f = WRITTEN
    bare, across, c2 = (min(f[f"phase_margin_{one}_deg"]) for one in ("bare", "across_r4", "c2"))
    dead, floating = f["rail_dead_v"][0::2], f["rail_dead_v"][1::2]
    broken = f["single_faults_above_floor_v"]
    low, worst = f["lowest_v"], f["lowest_worst_v"]
    # What is rounded here is rounded for the worse.
    for words in (
        f"| {f['full_v']:.2f} V; with resistors of 1 % {f['full_by_resistors_v'][0]:.2f} to"
        f" {f['full_by_resistors_v'][1]:.2f} V; if the amplifier is also off by 5 mV, or takes 0.2 µA,"
        f" {f['full_by_all_parts_v'][0]:.2f} to {f['full_by_all_parts_v'][1]:.2f} V |",
        f"| {low[0]:.2f} V, {low[1]:.2f} V, {low[2]:.2f} V; worst"
        f" {worst[0]:.2f} V, {worst[1]:.2f} V, {worst[2]:.2f} V |",
        f"| {math.floor(f['most_sunk_ma'] * 10) / 10} mA; worst"
        f" {math.floor(f['most_sunk_worst_ma'] * 10) / 10} mA |",
        f"| {f['transistor_ma'][1]:.1f} mA, {f['base_ua'][1]:.0f} µA |",
        f"| {f['kept_by_r6_ua'][0]:.0f} µA; worst {f['kept_by_r6_ua'][1]:.0f} µA, with 11.4 V",
        f"| {f['ripple_mv']:.1f} mV; without C2 {f['ripple_without_c2_mv']:.1f} mV |",
        f"| 99 % after {f['step_s']:.2f} s; no overshoot |",
        f"at least {math.floor(c2)}°, and {math.floor(min(f['phase_margin_others_deg']))}° with other parts"
        " (a gain of 2, β from 60 to 400, 0.1 MHz to 10 MHz);"
        f" without C2 −{-bare:.0f}°, and with 100 pF across R4 instead −{-across:.0f}°",
        f"by {min(f['swing_v'][:2]):.1f} V to {max(f['swing_v'][:2]):.1f} V",
        f"| {f['open_pair_at_ballast_v']:.0f} V at the ballast: **full light**. At your end the"
        f" {f['open_pair_here_v']:.2f} V of the table",
        f"0 V to −{max(f['swapped_pair_v']):.1f} V at the ballast",
        f"| {f['board_unpowered_v']:.2f} V: least light if the contactor were closed |",
        f"| {f['logic_supply_dead_v'][0]:.2f} V; without R8 {f['logic_supply_dead_v'][1]:.1f} V,",
        f"| {min(dead):.1f} V to {max(dead):.1f} V if the dead amplifier still takes the base current"
        f" of T1, {min(floating):.1f} V if not",
        f"of {f['single_faults']} such faults {len(broken)} give more light than the least,"
        f" {sum(volts > 10 for volts in broken.values())} of them **full light**",
        f"high: {f['shorted_pair_base_ma']:.1f} mA then go backwards",
    ):
        assert words in PAGE
    assert f["straight_within_mv"] < 0.1
    assert f["moved_by_ballasts_mv"] < 0.1
    assert f["overshoot_percent"] < 0.01
    assert all(volts < 1.0 for volts in (*low, *worst, f["board_unpowered_v"]))


@pytest.mark.slow
def test_figures_agree_with_arithmetic_by_hand(simulated: dict[str, Any]) -> None:
    low, high = simulated["full_by_resistors_v"]
    assert low == pytest.approx(3.3 * (1 + 2 * 0.99 / 1.01), abs=0.005)
    assert high == pytest.approx(3.3 * (1 + 2 * 1.01 / 0.99), abs=0.005)
    # 50 nA at R3 and at R4 beside R5, of an amplifier that draws it out of both inputs.
    bias_v = 50e-9 * (10e3 * 3 - 200e3)
    assert simulated["full_v"] == pytest.approx(FULL_SCALE_V + bias_v, abs=0.001)
    # Pulses through one RC: the exact form, from top to bottom at a duty d = 0.5.
    x = 1 / (PULSES_HZ * FILTER_S)
    d = 0.5
    exact_v = (
        FULL_SCALE_V * math.exp(-d * x) * (math.exp(x) - math.exp(d * x)) * (1 - math.exp(d * x))
        / (1 - math.exp(x))
    )  # fmt: skip
    assert simulated["ripple_without_c2_mv"] == pytest.approx(1e3 * exact_v, rel=0.03)
    # With C2 the gain falls from 3 to 1 above 1 / (2 π R4 C2) = 796 Hz, far below the pulses.
    assert simulated["ripple_mv"] == pytest.approx(1e3 * exact_v / 3, rel=0.03)
    assert simulated["step_s"] == pytest.approx(FILTER_S * math.log(100), rel=0.02)
    # β = 100, V_EB = 0.0259 V · ln(I / 1e-14 A) at 27 °C. Beside R7 the base's current passes the
    # amplifier's output (150 Ω) and the base itself (100 Ω), the emitter's 0.5 Ω.
    for ballasts, volts in zip((1, 2, 4), simulated["lowest_v"], strict=True):
        sunk = ballasts * 2e-3 + (12 - volts) / 22e3
        base_v = sunk / 101 * (470 + 150 + 100)
        by_hand = 0.1 + base_v + 0.5 * sunk + 0.02585 * math.log(sunk / 1e-14)
        assert volts == pytest.approx(by_hand, abs=0.01)


def test_loop_with_nothing_on_the_pair_has_the_textbook_margin(circuit: ModuleType) -> None:
    # At a gain of 1 the amplifier's first pole gives 90°, its second, at three times its bandwidth,
    # atan(f / 3 f1) where the gain is 1: f / f1 = 0.953, from g² (1 + (g / 3)²) = 1.
    g = math.sqrt(4.5 * (math.sqrt(1 + 4 / 9) - 1))
    assert g == pytest.approx(0.953, abs=0.001)
    (margin,) = circuit.phase_margins([circuit.Bench(1.7, ballasts_a=0, parts={"c2": "10n"})])
    assert margin == pytest.approx(90 - math.degrees(math.atan(g / 3)), abs=2.5)


@pytest.mark.slow
def test_a_loop_that_oscillates_is_told_apart_in_time_as_by_its_margin(
    simulated: dict[str, Any],
) -> None:
    bare, across, still = simulated["swing_v"]
    assert min(simulated["phase_margin_bare_deg"]) < 0 < min(simulated["phase_margin_c2_deg"])
    assert min(bare, across) > 0.1
    assert still < 0.001


def test_values_in_the_picture_are_those_of_the_netlist(circuit: ModuleType) -> None:
    head = circuit.NETLIST.read_text(encoding="utf-8").partition("\nR8 code")[0]
    values = dict(one.split("=") for one in head.split() if "=" in one)
    picture = (ROOT / "docs" / "walk-breadboard.svg").read_text(encoding="utf-8")
    for part, words in {
        "r3": "R3 10 kΩ", "c1": "2.2 µF", "r4": "R4 200 kΩ", "r5": "100 kΩ", "r6": "R6 22 kΩ",
        "r7": "R7 470 Ω", "r8": "10 kΩ", "c2": "C2 1 nF",
    }.items():  # fmt: skip
        assert words in picture
        number, unit = words.split()[-2:]
        prefix = {"kΩ": "k", "Ω": "", "µF": "u", "nF": "n"}[unit]
        assert values[part] == number + prefix
