"""Tables of a day, within the limits of zones and the rows of a controller."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photoperiod.api import compile, load_text, read_table, write
from photoperiod.api import replay as replay_at
from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_fit import fit_day, is_held, plan_targets, ppfd_in
from photoperiod.schedule.model import PpfdSpread
from tests.program.bench import (
    DAY,
    PPFD_TOLERANCE,
    WORKED,
    changed,
    compiled,
    edited,
    scheduled,
)


def test_a_ceiling_keeps_a_zone_under_its_limit() -> None:
    # 80.5 % of 130 is 104.65 µmol m⁻² s⁻¹. The nearest level, 90 %, gives 80.98 % or 105.27: more
    # than a limit of 105, which the plan keeps. One level less gives 79.19 % or 102.95.
    plan = ("light_percent: 80", "light_percent: 80.5")
    limit = ("dark_hours_min: 8", "ppfd_max: 105")
    free, kept = compiled(plan), compiled(plan, limit)
    assert free.zones["crest"].peak_ppfd == pytest.approx(105.27, abs=0.01)
    assert kept.zones["crest"].peak_ppfd == pytest.approx(102.95, abs=0.01)
    held = compiled(plan, limit, ("between: line", "between: hold"))
    assert held.zones["crest"].peak_ppfd <= 105


def test_a_relay_makes_dark_what_the_port_cannot_bring_into_standby() -> None:
    # 0.9 V at code 0, above the standby of 0.8 V: from 21:00 to 09:00 the relay alone makes dark.
    program = compiled(
        (
            "{kind: nominal, bits: 12, full_scale_volts: 10.0}",
            "{kind: two-point, bits: 12, points: [{code: 0, volts: 0.9}, {code: 4000, volts: 9.5}]}",
        ),
        ("dark: {kind: relay}", "dark: {kind: standby, below_volts: 0.8}"),
    )
    (channel,) = program.channels.values()
    assert channel.longest_dark_s == 12 * 3600
    assert channel.fit.replay.light[3 * 3600] == 0.0
    assert channel.fit.rows[-1].relay is False


def test_a_plan_above_its_limit_is_not_cut_in_secret() -> None:
    # 130 × 0.8 = 104 > 100: the plan is at fault, and the table follows the plan.
    program = compiled(("dark_hours_min: 8", "ppfd_max: 100"))
    assert program.zones["crest"].peak_ppfd > 100


def test_the_ceiling_is_kept_by_the_brightest_point_of_a_zone() -> None:
    # The mean is 130, the brightest point gets 260: 80.5 % of that is 209.3, and the nearest level, 90 %,
    # gives 80.98 % or 210.5. One level less gives 79.19 % or 205.9.
    plan = ("light_percent: 80", "light_percent: 80.5")
    schedule = scheduled(changed(plan, ("dark_hours_min: 8", "ppfd_max: 210")))
    spread = {"crest": PpfdSpread(limits=260, dli_least=130)}
    blue = replace(schedule.channels["blue"], ppfd_spread=spread)
    kept = compile_program(replace(schedule, channels={"blue": blue}))
    assert kept.zones["crest"].peak_ppfd == pytest.approx(205.9, abs=0.02)


def test_each_output_gets_the_levels_that_its_own_volts_need(tmp_path: Path) -> None:
    # Two outputs of one controller: at the code for 10 V one gives 10.54 V, one 10.05 V. 64 % light of a
    # square-law ballast from 1 % at 1 V takes √0.64 = 0.8 = 0.1 + 0.9 (V − 1)/9, so 8 V: levels of
    # 80/1.054 = 75.9 % and 80/1.005 = 79.6 %, to whole percents 76 and 80.
    def channel(id: str, full_scale: float) -> str:
        return (
            f"  {id}:\n    ballast: pair\n    full_ppfd: {{zones: {{crest: 100}}}}\n"
            f"    converter: {{kind: nominal, bits: 12, full_scale_volts: {full_scale}}}\n"
            "    day: {kind: points, points: [{time: '08:00', light_percent: 64},"
            " {time: '18:00', light_percent: 64}]}\n"
        )

    text = changed().split("  blue:\n")[0] + channel("strong", 10.54) + channel("near", 10.05)
    loaded = load_text("x", text.encode())
    program = compile_program(loaded.schedule)
    levels = {id: {row.count for row in c.fit.rows} - {0} for id, c in program.channels.items()}
    assert levels == {"strong": {76}, "near": {80}}
    for c in program.channels.values():
        assert c.replay.light.max() == pytest.approx(0.64, abs=0.01)
        assert c.most_volts == pytest.approx(8.0, abs=0.06)
        assert c.path.volts.max() <= 10.0
    write(compile(loaded), tmp_path / "out")
    table = read_table(tmp_path / "out" / "table.json")
    noon = replay_at(table, dt.time(12))
    assert [noon[id].volts for id in ("strong", "near")] == pytest.approx([8.0, 8.0], abs=0.06)
    assert [noon[id].light for id in ("strong", "near")] == pytest.approx([0.64, 0.64], abs=0.01)
    # by hand: level 76 % is code round(0.76 × 4096) = 3113, whichever output it is for
    assert noon["strong"].code == 3113


def test_lines_that_cross_do_not_lift_a_zone_over_its_limit() -> None:
    # Two channels change places between 11:00 and 13:00: at each moment 100 µmol m⁻² s⁻¹ are
    # planned, 1 less than the limit. A table that errs upward on both at once breaks it.
    def channel(id: str, morning: int, evening: int) -> str:
        points = ((6, 0), (7, morning), (11, morning), (13, evening), (18, evening), (19, 0))
        listed = ", ".join(f"{{time: '{h:02d}:00', light_percent: {p}}}" for h, p in points)
        return (
            f"  {id}:\n    ballast: pair\n    full_ppfd: {{zones: {{crest: 100}}}}\n"
            f"    day: {{kind: points, points: [{listed}]}}\n"
        )

    head = changed(
        ("dark_hours_min: 8", "ppfd_max: 101"),
        ("setpoints_per_channel: 12", "setpoints_per_channel: 24"),
    ).split("  blue:\n")[0]
    program = compile_program(scheduled(head + channel("am", 80, 20) + channel("pm", 20, 80)))
    assert program.zones["crest"].peak_ppfd <= 101 + PPFD_TOLERANCE


def test_what_is_known_of_the_very_same_target_is_not_fitted_again() -> None:
    found = scheduled(WORKED)
    curves = DayCurves(found).by_clock
    targets = plan_targets(found, curves)
    first = fit_day(found, targets)
    again = fit_day(found, targets, first)
    assert again["blue"].fit is first["blue"].fit
    other = plan_targets(found, curves)  # equal, but not the same
    assert fit_day(found, other, first)["blue"].fit is not first["blue"].fit


def test_a_table_is_held_that_fits_the_rows_and_is_one_of_its_day() -> None:
    found = scheduled(WORKED)
    fitted = fit_day(found, plan_targets(found, DayCurves(found).by_clock))["blue"]
    rows = len(fitted.fit.rows)
    assert is_held(fitted, rows) and not is_held(fitted, rows - 1)
    # far off the 80 % of its day, and more rows would mend it: its bound is far below its error
    proof = replace(fitted.fit.certificate, error=0.5, floor=0.1)
    far = replace(fitted.fit, worst_light_error=0.41, certificate=proof)
    assert not is_held(replace(fitted, fit=far), rows)
    assert is_held(replace(fitted, fit=replace(far, worst_light_error=0.39)), rows)
    least = replace(far, certificate=replace(proof, floor=0.48))  # 0.5 is within 5 % of it
    assert is_held(replace(fitted, fit=least), rows)


def test_strays_far_is_more_than_half_of_the_peak() -> None:
    found = scheduled(WORKED)
    fitted = fit_day(found, plan_targets(found, DayCurves(found).by_clock))["blue"].fit
    proof = replace(fitted.certificate, error=0.5, floor=0.0)
    far = replace(fitted, worst_light_error=0.4, certificate=proof)
    assert not far.strays_far(0.8)
    assert far.strays_far(0.79)
    assert not far.strays_far(0.0)  # a day without light has no table of another day


def test_the_ppfd_of_a_zone_counts_the_light_of_tubes_and_only_its_own_channels() -> None:
    # blue gives crest 130 and sand 55 at full, white gives crest alone 130
    found = edited(
        ("  crest: {dli: [2, 14]}\n", "  crest: {}\n  sand: {}\n"),
        ("    tubes: [a, b]\n    full_ppfd: {zones: {crest: 130}}",
         "    tubes: [a, b]\n    full_ppfd: {zones: {crest: 130, sand: 55}}"),
    )  # fmt: skip
    light = {"blue": np.full(DAY, 0.5), "white": np.full(DAY, 0.2)}
    assert ppfd_in(found, "crest", light, {})[0] == pytest.approx(65 + 26)
    assert ppfd_in(found, "crest", light, {"blue": 0.8})[-1] == pytest.approx(52 + 26)
    assert ppfd_in(found, "sand", light, {"white": 0.8})[0] == pytest.approx(27.5)
