"""Days at full: the dose, the limits of zones, and why a channel waits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.checks.run import run_checks
from photoperiod.diagnostics.codes import CODES
from photoperiod.program.burn_in_day import BurnInDate, tables_fault
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_sequence import DaySequence
from photoperiod.schedule.model import PpfdSpread, Schedule
from photoperiod.tubes.burn_in import Limits
from photoperiod.tubes.burn_in_plan import DayPlan
from tests.conftest import ROOT, drawn, load
from tests.program.bench import (
    BOTH_NEW,
    STEP_S,
    TEXT,
    USUAL,
    edited,
    march,
    program,
    schedule,
)


def test_dose_wins_where_it_conflicts_with_burn_in() -> None:
    p = program(zone=", ppfd_max: 195")  # 130 + 91 is too much; the plan peaks at 182
    table = p.tables[1]
    assert set(table.plan.windows) == {"blue"}
    assert table.channels["white"].role == "gives-way"
    assert table.zones["crest"].peak_ppfd <= 195 + 1e-6
    p = program(zone=", ppfd_max: 129")
    assert all(not table.plan.windows for table in p.tables)
    assert p.tables[1].plan.dimmed == {"blue"}
    assert p.tubes["a"].hours.owed_hours == 12


@settings(max_examples=drawn(12))
@given(
    begin=st.integers(6, 18),
    length=st.integers(4, 14),
    light=st.sampled_from([30, 55, 80, 100]),
    ramp=st.sampled_from([0, 10, 90]),
    owed=st.sampled_from([3, 12, 20]),
    between=st.sampled_from(["line", "hold"]),
)
def test_a_day_at_full_holds_the_dose_and_dims_nobody(
    begin: int, length: int, light: int, ramp: int, owed: int, between: str
) -> None:
    end = f"{(begin + length) % 24:02}:00"
    p = program(start=f"{begin:02}:00", end=end, light=light, ramp=ramp, owed=owed,
                between=between, zone="")  # fmt: skip
    burning = [t for t in p.tables if "blue" in t.plan.windows]
    if light == 100 and ramp == 0:  # dark or full as it is
        assert not burning and p.tubes["a"].hours.dimmed == []
        return
    assert burning
    for table in burning:
        blue = table.channels["blue"]
        assert 0 <= blue.full_light_hours.plan - blue.full_light_hours.replay < STEP_S / 3600 + 1e-9
        replay = blue.replay
        dimmed = replay.lit & ~replay.full
        assert dimmed.sum() <= 2 * STEP_S  # edges alone
        assert np.abs(np.diff(replay.lit.astype(int), append=int(replay.lit[0]))).sum() <= 2
    assert p.tubes["a"].hours.dimmed == []
    a = p.tubes["a"].hours
    assert (
        a.owed_hours == 0 or p.tables[-1].plan.windows
    )  # a short day pays for longer than the span
    assert a.owed_hours + a.full_seconds / 3600 >= owed - 1e-9
    assert a.lit_hours >= a.full_hours


@pytest.mark.parametrize(
    "changes",
    [
        (),
        (("setpoints_per_channel: 12", "setpoints_per_channel: 4"),),
        pytest.param(
            (("time_step_minutes: 1", "time_step_minutes: 0.25"),), marks=pytest.mark.slow
        ),
        (("time_step_minutes: 1", "time_step_minutes: 15"),),
        (("percent, step: 1", "percent, step: 5"),),
    ],
)
@pytest.mark.parametrize("between", ["line", "hold"])
def test_a_day_at_full_never_breaks_what_a_day_by_the_plan_keeps(
    changes: tuple[tuple[str, str], ...], between: str
) -> None:
    found = edited(BOTH_NEW, *changes, between=between, zone=", ppfd_max: 195")
    usual, _ = run_checks(compile_program(found, None))
    p = compile_program(found, march(1, 10))
    hard = {d.code for d in run_checks(p)[0] if CODES[d.code].is_hard}
    assert hard <= {d.code for d in usual if CODES[d.code].is_hard}
    for table in p.tables:
        if table.plan.windows:
            assert table.zones["crest"].peak_ppfd <= 195 + 1e-6


def test_a_lamp_that_cannot_be_dark_gives_way_no_further_than_its_floor() -> None:
    never = ("channels:\n", "  never: {response: {kind: linear}, floor: {volts: 3, light_percent: 50},"
             " full_volts: 10.0, dark: never}\nchannels:\n")  # fmt: skip
    text = TEXT.format(**(USUAL | {"zone": ", ppfd_max: 190"}))
    text = text.replace("tubes:\n  a", never[1].split("channels")[0] + "tubes:\n  a", 1)
    text = text.replace("    ballast: pair\n    tubes: [c]", "    ballast: never\n    tubes: [c]")
    outcome = load("test.yaml", text.replace("dark: never", "dark: {kind: never}").encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    assert not any(table.plan.windows for table in p.tables)  # 130 + 65 is over 190
    assert "can't go below its floor" in p.tables[1].plan.reasons["blue"]


@pytest.mark.parametrize("most_volts", [9.5, 9.6, 9.9])
def test_the_dose_holds_where_the_port_does_not_reach_full(most_volts: float) -> None:
    port = ("  relay: {kind: column}\n", "  relay: {kind: column}\n  port: {most_volts: "
            f"{most_volts}, sink_milliamps: 40}}\n")  # fmt: skip
    p = compile_program(edited(port), march(1, 10))
    blue = p.tables[1].channels["blue"]
    assert "blue" in p.tables[1].plan.windows and blue.path.top_light < 1
    assert 0 <= blue.full_light_hours.plan - blue.full_light_hours.replay < STEP_S / 3600


def test_a_moonlight_is_never_run_at_full() -> None:
    p = program(light=2, zone="")
    assert not any(table.plan.windows for table in p.tables)
    assert p.tables[1].plan.reasons["blue"].startswith("its plan gives 2 % at most")


def test_a_window_stays_in_the_hours_of_its_own_plan() -> None:
    # blue is lit 01:00 to 05:00 by plan, white 08:00 to 22:00: never brought there
    p = program(start="01:00", end="05:00", zone="", ramp=10)
    start, stop = p.tables[1].plan.windows["blue"]
    assert 3600 <= start < stop <= 5 * 3600
    assert p.tables[1].plan.outside == {"blue"}


def test_a_day_at_full_is_never_longer_than_the_day_by_plan() -> None:
    # At 40 % of its light the plan's dose of 7.7 h would take 19 h at full; the day has 12.
    old = ", lit_hours: 18000, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
    p = program(a=old, b=old, owed=0.5, zone="", measured="")
    assert p.tables[1].channels["blue"].brightness == pytest.approx(0.95**17.9, rel=1e-6)
    assert not any(table.plan.windows for table in p.tables)
    assert "longer at full than its own day" in p.tables[1].plan.reasons["blue"]


def test_a_band_that_a_day_by_the_plan_keeps_is_kept_by_a_day_at_full() -> None:
    # The plan gives 7.70 + 9.10 full-light hours of 130: 7.86 mol; a day at full somewhat less.
    usual = compile_program(schedule(zone=""), None).zones["crest"].dli.replay
    text = TEXT.format(**USUAL).replace("dli: [2, 14]", f"dli: [{usual - 0.005:.3f}, 14]")
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    for table in p.tables:
        assert table.zones["crest"].dli.replay >= usual - 0.005


# What tables do, apart from what is weighed by the minute ------------------------------------------

#: Wide enough for any day of these tests, so that doses are no reason.
ANY_DOSE = {"crest": Limits(ppfd_max=None, dose_min=0.0, dose_max=99.0)}


def date_of(found: Schedule) -> BurnInDate:
    sequence = DaySequence(found, None)
    return BurnInDate(
        day_type=sequence.first(),
        curves=sequence.days.curves(None),
        owing={"blue": 12.0},
        kept_full=frozenset(),
        brightness={"blue": 1.0, "white": 1.0},
        before={},
    )


def test_tables_that_take_the_night_of_a_zone_are_refused() -> None:
    # By the plan white is lit from 08:00 to 22:00: a night of ten hours. From 04:00 on, six are left.
    early = DayPlan(windows={"blue": (4 * 3600, 12 * 3600)}, scale={}, reasons={})
    date = date_of(schedule(zone=", dark_hours_min: 8"))
    fault = tables_fault(date, ANY_DOSE, early)
    assert fault.startswith("the night of zone 'crest' would last") and fault.endswith(
        "than its 8 h"
    )
    later = DayPlan(windows={"blue": (9 * 3600, 17 * 3600)}, scale={}, reasons={})
    assert tables_fault(date, ANY_DOSE, later) == ""
    # a night that the plan does not keep either is no reason
    assert tables_fault(date_of(schedule(zone=", dark_hours_min: 11")), ANY_DOSE, early) == ""


def test_tables_that_the_rows_do_not_hold_are_refused() -> None:
    # White is to be dark in every second hour of its fourteen: far more than twelve rows.
    scale = np.where(np.arange(1440) // 60 % 2 == 0, 1.0, 0.0)
    plan = DayPlan(windows={"blue": (11 * 3600, 18 * 3600)}, scale={"white": scale}, reasons={})
    fault = tables_fault(date_of(schedule()), ANY_DOSE, plan)
    assert fault == "12 rows do not hold the day of 'white' that this takes"


def test_tables_over_a_limit_that_the_plan_keeps_are_refused() -> None:
    # 130 and 70 % of 130 are 221; the plan gives 182 at most.
    plan = DayPlan(windows={"blue": (11 * 3600, 18 * 3600)}, scale={}, reasons={})
    date = date_of(schedule())
    limits = {"crest": replace(ANY_DOSE["crest"], ppfd_max=200.0)}
    fault = tables_fault(date, limits, plan)
    assert fault.startswith("zone 'crest' would get 22") and "from the table, over its" in fault
    assert tables_fault(date, {"crest": replace(limits["crest"], ppfd_max=225.0)}, plan) == ""


def test_a_channel_waits_for_the_brightest_point_of_a_zone() -> None:
    # 130 + 91 µmol m⁻² s⁻¹ is the mean of the zone at full; the limit of 195 is kept by giving way. Where
    # the brightest point gets half as much again from blue, 195 is reached by blue alone, less a hair.
    whole = schedule(zone=", ppfd_max: 194")
    spread = {"crest": PpfdSpread(limits=195, dli_least=100)}
    blue = replace(whole.channels["blue"], ppfd_spread=spread)
    mapped = replace(whole, channels={**whole.channels, "blue": blue})
    assert set(compile_program(whole, march(1, 3)).tables[1].plan.windows) == {"blue"}
    assert all(not table.plan.windows for table in compile_program(mapped, march(1, 3)).tables)


def test_a_window_that_would_be_a_minute_longer_is_not_worth_a_load() -> None:
    # Tubes that lose 1.4 % in 1,000 h lose 0.15 % in two weeks of 7.7 h: 27,700 s at full would be 42 s
    # longer. From 11:10 to 18:51 they burn for a minute less than the plan's dose may ask at the most.
    text = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")
    made = load("test.yaml", text.replace("full_hours: 12", "full_hours: 100").encode()).schedule
    assert made is not None
    p = compile_program(made, march(1, 15))
    windows = {t.plan.windows["blue"] for t in p.tables if "blue" in t.plan.windows}
    assert windows == {(11 * 3600 + 10 * 60, 18 * 3600 + 51 * 60)}
    for table in p.tables:
        if "blue" in table.plan.windows:
            blue = table.channels["blue"]
            short_h = blue.full_light_hours.plan - blue.full_light_hours.replay * blue.brightness
            assert 0 <= short_h * 3600 < 60 + 60


def test_where_days_follow_the_sky_a_window_may_be_off_as_any_table() -> None:
    # From day to day the sun's dose grows by some 1 % in March: windows of 5 h by three minutes.
    text = (ROOT / "examples" / "natural-year.yaml").read_text(encoding="utf-8")
    tube = "tubes:\n  a: {watts: 54, fitted: 2027-03-02, burn_in_full_hours: 50}\nzones:\n"
    text = text[: text.index("  white:\n")].replace("zones:\n", tube, 1)
    text = text.replace("    ballast: pair\n", "    ballast: pair\n    tubes: [a]\n", 1)
    text = text.replace("full_ppfd: {", "full_ppfd: {measured_on: 2027-03-02, ")
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    p = compile_program(outcome.schedule, march(1, 10))
    burning = [t for t in p.tables if "blue" in t.plan.windows]
    dates = sum(t.span.days for t in burning if t.span)
    windows = {t.plan.windows["blue"] for t in burning}
    assert dates == 9 and len(windows) <= 3
    days = DaySequence(outcome.schedule, march(1, 10)).days
    for table in burning:
        given = table.channels["blue"].full_light_hours.replay
        for date in table.span or ():
            wanted = days.curves(date)["blue"].integral() / 3600
            assert -1e-9 <= wanted - given <= 0.05 * wanted + 60 / 3600
