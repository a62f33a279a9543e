"""What changes do to doses, told."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.api import load_text
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import ChangeEffect
from tests.changes.bench import ACCLIMATION, CALM, DARK, MOVED, TEXT, scheduled, span
from tests.program.test_part_losses import OUT, STOPS, TUBED

#: Tables follow a plan by so much [share].
TABLE_TOLERANCE = 0.02


def effects(*changes: str, first: str, last: str, plans: str = "") -> tuple[ChangeEffect, ...]:
    return compile_program(scheduled(*changes, plans=plans), span(first, last)).effects


def test_without_changes_nothing_is_told() -> None:
    assert compile_program(scheduled(), span("2027-04-01", "2027-04-02")).effects == ()


def test_the_first_and_the_last_date_are_told_with_and_without() -> None:
    (found,) = effects(ACCLIMATION, first="2027-03-25", last="2027-04-09")
    assert (found.first, found.last) == (dt.date(2027, 4, 1), dt.date(2027, 4, 9))
    begin, end = found.doses.values()
    assert begin["crest"].given / begin["crest"].without == pytest.approx(0.6, abs=TABLE_TOLERANCE)
    assert end["crest"].given / end["crest"].without == pytest.approx(0.7, abs=TABLE_TOLERANCE)
    # sand by hand: (11 × 0.8 + 4 × 0.02) h × 60 × 0.0036
    assert begin["sand"].without == pytest.approx(1.918, rel=TABLE_TOLERANCE)


def test_changes_stack_and_each_is_told_for_itself() -> None:
    plan = "{kind: other-day, from_date: 2027-04-01, day_plan: calm}"
    dark = DARK.replace("2027-06-07", "2027-04-02").replace("days: 3", "days: 1, channels: [white]")
    found = effects(ACCLIMATION, dark, plan, plans=CALM, first="2027-04-01", last="2027-04-03")
    acclimation, darkness, other = (each.doses[each.first] for each in found)
    # calm: blue 7 h × 0.4, sand has 60 at full
    calm = 7 * 0.4 * 60 * 0.0036
    assert other["sand"].without == pytest.approx(1.918, rel=TABLE_TOLERANCE)
    assert other["sand"].given == pytest.approx(calm, rel=TABLE_TOLERANCE)
    assert (
        darkness["sand"].given
        == darkness["sand"].without
        == pytest.approx(calm, rel=TABLE_TOLERANCE)
    )
    assert darkness["crest"].given < darkness["crest"].without
    assert acclimation["sand"].without == pytest.approx(calm, rel=TABLE_TOLERANCE)
    assert acclimation["sand"].given == pytest.approx(0.6 * calm, rel=TABLE_TOLERANCE)


#: 75 % for 11 h, where 140 µmol m⁻² s⁻¹ were measured. [mol m⁻² d⁻¹]
HELD_DOSE = 11 * 0.75 * 140 * 0.0036

#: A tube that loses an eighth in 1,000 h, whose light is held within 3 %: levels rise by a quarter by June.
HELD = """\
schedule: 1
tank: held
controller:
  clock: standard
  setpoints_per_channel: 12
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 0.5}
  converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}
ballasts:
  pair:
    response: {kind: linear}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
tubes:
  tube: {watts: 54, fitted: 2027-01-01, depreciation: {kind: exponential, loss_percent_per_1000_h: 12}}
zones:
  top: {}
channels:
  blue:
    ballast: pair
    tubes: [tube]
    full_ppfd: {measured_on: 2027-01-05, zones: {top: 140}}
    hold_light: {dose_within_percent: 3}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks: [{light_percent: 75}]
      dusk: {end: 21:00, minutes: 60}
changes:
  - {kind: dark-days, from_date: 2027-05-20, days: 1}
  - {kind: moved-hours, from_date: 2027-05-22, minutes_per_day: 10, minutes: 20}
  - {kind: acclimation, from_date: 2027-06-01, over_days: 20, every_days: 10, from_dose_percent: 60}
"""


def test_light_that_is_held_is_told_as_held() -> None:
    schedule = load_text("held.yaml", HELD.encode()).schedule
    dark, moved, acclimation = compile_program(schedule, span("2027-05-18", "2027-06-02")).effects
    held = pytest.approx(HELD_DOSE, rel=0.03 + TABLE_TOLERANCE)
    assert (dark.doses[dark.first]["top"].without, dark.doses[dark.first]["top"].given) == (held, 0)
    for doses in moved.doses.values():
        assert (doses["top"].without, doses["top"].given) == (held, held)
    begin = acclimation.doses[acclimation.first]["top"]
    assert begin.without == held
    assert begin.given == pytest.approx(0.6 * HELD_DOSE, rel=0.03 + TABLE_TOLERANCE)


def test_moved_hours_leave_the_dose() -> None:
    (found,) = effects(MOVED, first="2027-07-01", last="2027-07-09")
    assert found.last == dt.date(2027, 7, 9)
    for doses in found.doses.values():
        assert doses["crest"].given == pytest.approx(doses["crest"].without, rel=0.005)


def test_two_acclimations_of_other_channels_are_told_apart() -> None:
    found = effects(
        f"{ACCLIMATION[:-1]}, channels: [blue]}}",
        f"{ACCLIMATION[:-1]}, channels: [white]}}",
        first="2027-04-01",
        last="2027-04-01",
    )
    blue, white = (each.doses[each.first]["crest"] for each in found)
    assert blue.given == white.given
    # by hand: blue 8.88 h × 130, white 6.5 h × 0.7 × 120 of sine ramps: the parts that 40 % takes away
    assert blue.without - blue.given == pytest.approx(0.4 * 8.88 * 130 * 0.0036, rel=0.05)
    assert white.without > white.given


def test_days_that_follow_the_sun_are_told_by_their_light() -> None:
    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n"
    sun = TEXT.replace("controller:\n", place).replace("start: 09:00", "start: sunrise")
    program = compile_program(scheduled(ACCLIMATION, text=sun), span("2027-04-01", "2027-04-02"))
    (found,) = program.effects
    crest = found.doses[found.first]["crest"]
    assert crest.given / crest.without == pytest.approx(0.6, abs=0.005)


def test_a_zone_is_lowered_only_by_changes_of_channels_that_light_it() -> None:
    dark = DARK.replace("days: 3", "days: 3, channels: [white]")
    program = compile_program(scheduled(dark), span("2027-06-06", "2027-06-10"))
    before, during, after = program.tables
    assert program.is_lowered(during, "crest")
    assert not program.is_lowered(during, "sand")  # white gives 0 there
    assert not program.is_lowered(before, "crest")
    assert not program.is_lowered(after, "crest")


def test_a_part_that_is_out_is_told_from_its_first_date_to_its_last() -> None:
    found = compile_program(scheduled(OUT, text=TUBED), span("2027-05-01", "2027-06-03")).effects
    (effect,) = found
    # Another tube is fitted in its place on 1 June
    assert (effect.first, effect.last) == (dt.date(2027, 5, 3), dt.date(2027, 5, 31))
    for doses in effect.doses.values():
        # Blue alone lights the sand, and loses 36 of 90 W; at full the crest gets 130 of it and the sand 60
        crest, sand = doses["crest"], doses["sand"]
        assert sand.given / sand.without == pytest.approx(0.6)
        assert (crest.without - crest.given) * 60 == pytest.approx(
            (sand.without - sand.given) * 130
        )


def test_a_part_whose_channel_gives_nothing_more_is_told_with_what_it_gave() -> None:
    (found,) = compile_program(
        scheduled(STOPS, text=TUBED), span("2027-05-03", "2027-05-04")
    ).effects
    dose = found.doses[found.first]["sand"]
    assert dose.given == 0.0
    assert dose.without == pytest.approx(1.918, rel=TABLE_TOLERANCE)
