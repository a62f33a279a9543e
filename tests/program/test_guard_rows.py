from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod import compile as compile_schedule
from photoperiod import load
from photoperiod.days.day_curves import DayCurves
from photoperiod.drive.grid import Row
from photoperiod.drive.replay import levels_of
from photoperiod.drive.welded_relay import WeldedLight, welded_light
from photoperiod.program.channel_day import Role
from photoperiod.program.day_fit import FittedChannel, fit_day, plan_targets
from photoperiod.program.guard_rows import adds_too_much, plan_doses
from photoperiod.setpoints.fit import fit
from tests.checks.bench import bench, schedule_of
from tests.conftest import ROOT

HOUR = 3600

LINES = ("between: hold", "between: line")
RAMP = (
    "{kind: points, points: [{time: 08:00, light_percent: 60}, {time: 18:00, light_percent: 60}]}",
    "{kind: ramps, dawn: {start: 08:00, minutes: 240, shape: smooth}, peaks: [{light_percent: 60}],"
    " dusk: {end: 18:00, minutes: 60}}",
)
HILLS = (
    RAMP[0],
    "{kind: points, points: [{time: 08:00, light_percent: 30}, {time: 10:00, light_percent: 80},"
    " {time: 13:00, light_percent: 50}, {time: 16:00, light_percent: 70},"
    " {time: 18:00, light_percent: 40}]}",
)


def fitted(rows: int, *changes: tuple[str, str]) -> dict[str, FittedChannel]:
    """Return the tables of the bench for a controller that draws lines and holds so many rows."""
    text = bench(LINES, ("setpoints_per_channel: 24", f"setpoints_per_channel: {rows}"), *changes)
    schedule = schedule_of(text)
    return fit_day(schedule, plan_targets(schedule, DayCurves(schedule).by_clock))


def welded(found: FittedChannel) -> WeldedLight | None:
    return welded_light(found.fit.rows, found.fit.times, found.fit.path)


# The zone gets 1000 µmol m⁻² a day; at full the channel gives it 10 µmol m⁻² s⁻¹.
@pytest.mark.parametrize(
    ("most", "extra_s", "too_much"),
    [
        (0.05, 0.0, False), (0.0501, 0.0, True),
        (0.01, 1.99, False), (0.01, 2.0, False), (0.01, 2.01, True),
    ],
)  # fmt: skip
def test_five_per_cent_light_or_two_per_cent_dose(
    most: float, extra_s: float, too_much: bool
) -> None:
    found = WeldedLight(most, 0, extra_s)
    assert adds_too_much(found, {"crest": 10.0}, {"crest": 1000.0}) is too_much


def test_nothing_added_is_not_too_much_even_without_a_dose() -> None:
    assert not adds_too_much(None, {"crest": 10.0}, {})
    assert not adds_too_much(WeldedLight(0.02, 0, 50.0), {"crest": 0.0}, {"crest": 0.0})
    # a zone that gets no light by plan would get some
    assert adds_too_much(WeldedLight(0.02, 0, 50.0), {"crest": 10.0}, {"crest": 0.0})


def test_doses_are_those_of_all_channels() -> None:
    schedule = schedule_of(bench(LINES))
    targets = plan_targets(schedule, DayCurves(schedule).by_clock)
    full = {id: channel.full_ppfd for id, channel in schedule.channels.items()}
    # 10 h of 0.8 · 50 + 0.6 · 100 in crest, of 0.8 · 10 in sand
    assert plan_doses(targets, full) == pytest.approx({"crest": 3.6e6, "sand": 288_000})


def test_a_day_that_begins_bright_has_a_guard_row() -> None:
    found = fitted(4)["strong"]
    assert found.fit.rows == (
        Row(8 * HOUR - 900, 0, False),
        Row(8 * HOUR, 60, True),
        Row(18 * HOUR - 900, 60, True),
        Row(18 * HOUR, 0, False),
    )
    assert welded(found) is None
    assert found.fit.error_without_guard == 0.0  # three rows hold the day as well
    assert not found.target.is_guarded  # what is wanted is the same


def test_without_a_row_for_it_the_table_stays_as_it_was() -> None:
    found = fitted(3)["strong"]
    assert len(found.fit.rows) == 3
    at_risk = welded(found)
    assert at_risk is not None and at_risk.most_light > 0.5
    assert found.fit.error_without_guard is None


def test_the_price_of_a_guard_row_is_told() -> None:
    text = bench(LINES, ("setpoints_per_channel: 24", "setpoints_per_channel: 6"), HILLS)
    schedule = schedule_of(text)
    targets = plan_targets(schedule, DayCurves(schedule).by_clock)
    found = fit_day(schedule, targets)["strong"]
    (plain,) = fit([targets["strong"]], schedule.controller.times, 6)
    assert len(found.fit.rows) == len(plain.rows) == 6
    assert welded(found) is None
    assert found.fit.error_without_guard == plain.certificate.error
    assert found.fit.certificate.error > plain.certificate.error + 0.01


def test_a_row_that_is_left_over_becomes_a_guard_row() -> None:
    # Half of the floor of 10 % is reached 44.7 min into the dawn: the lamp lights at 08:45.
    found = fitted(24, RAMP)["strong"]
    assert found.fit.rows[0] == Row(8 * HOUR + 1800, 0, False)
    assert found.fit.rows[1].second == 8 * HOUR + 2700
    assert found.fit.error_without_guard is None  # it took no row from the day


def test_channels_that_share_their_times_have_guard_rows_together() -> None:
    shared = ("setpoints_per_channel: 24", "setpoints_per_channel: 6\n  shared_times: true")
    text = bench(LINES, shared)
    schedule = schedule_of(text)
    found = fit_day(schedule, plan_targets(schedule, DayCurves(schedule).by_clock))
    assert {each.fit.rows[0] for each in found.values()} == {Row(8 * HOUR - 900, 0, False)}
    assert all(welded(each) is None for each in found.values())


def test_only_the_channel_that_is_at_risk_has_guard_rows_of_its_own() -> None:
    # At 10 % weak is at its floor, which a welded relay gives in any case.
    faint = ("08:00, light_percent: 80}, {time: 18:00, light_percent: 80", "09:00, light_percent: 10},"
             " {time: 17:00, light_percent: 10")  # fmt: skip
    shared = ("setpoints_per_channel: 24", "setpoints_per_channel: 8\n  shared_times: true")
    schedule = schedule_of(bench(LINES, shared, faint))
    found = fit_day(schedule, plan_targets(schedule, DayCurves(schedule).by_clock))
    assert {id: each.fit.has_guard_rows for id, each in found.items()} == {
        "weak": False,
        "strong": True,
    }
    assert all(each.fit.error_without_guard is not None for each in found.values())
    before = {id: 9 * HOUR - 900 if id == "weak" else 8 * HOUR - 900 for id in found}
    has = {id: before[id] in {r.second for r in found[id].fit.rows} for id in found}
    assert has == {"weak": False, "strong": True}


def test_a_burn_in_table_stays_at_level_zero_until_its_lamp_lights() -> None:
    """Without a guard row blue was at 5 V at 03:00, behind an open relay."""
    loaded = load(ROOT / "examples" / "new-tubes.yaml")
    program = compile_schedule(loaded, (dt.date(2027, 3, 1), dt.date(2027, 3, 9))).program
    full = [c for table in program.tables for c in table.channels.values() if c.role is Role.FULL]
    assert full
    for c in full:
        three = np.array([3 * HOUR])
        counts, relays = levels_of(c.fit.rows, c.fit.times, 1, c.path.levels.rounding, three)
        assert (counts[0], relays[0]) == (0, False)
        assert welded_light(c.fit.rows, c.fit.times, c.path) is None
