"""What is left of a channel's light, by hand."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.part_losses import PartLosses, lost_share
from tests.changes.bench import TEXT, scheduled, span

#: A pair of 54 W and 36 W on one ballast; the second tube is changed in June.
TUBES = """\
tubes:
  blue-a: {watts: 54, lit_hours: 500}
  blue-b: {watts: 36, place: right, fitted: 2027-01-02}
  blue-c: {watts: 36, place: right, fitted: 2027-06-01T08:00}
zones:
"""
TUBED = TEXT.replace("zones:\n", TUBES, 1).replace(
    "    ballast_count: 1\n", "    ballast_count: 1\n    tubes: [blue-a, blue-b, blue-c]\n", 1
)

OUT = "{kind: part-out, from_date: 2027-05-03, tube: blue-b, ballast: goes-on}"
STOPS = OUT.replace("goes-on", "stops")
BALLAST = "{kind: part-out, from_date: 2027-05-03, channel: blue, ballasts: 1, days: 2}"


def left(date: str, *changes: str, text: str = TUBED) -> float:
    schedule = scheduled(*changes, text=text)
    return PartLosses(schedule).left_of(schedule.channels["blue"], dt.date.fromisoformat(date))


def test_a_tube_takes_its_share_of_the_light_with_it() -> None:
    assert left("2027-05-02", OUT) == 1.0
    assert left("2027-05-03", OUT) == pytest.approx(54 / 90)
    assert left("2027-05-31", OUT) == pytest.approx(54 / 90)
    assert left("2027-06-01", OUT) == 1.0  # another is fitted in its place


def test_a_ballast_that_stops_takes_all_its_tubes() -> None:
    assert left("2027-05-03", STOPS) == 0.0
    two = TUBED.replace("    ballast_count: 1\n    tubes", "    ballast_count: 2\n    tubes")
    assert left("2027-05-03", STOPS, text=two) == 0.5
    assert left("2027-05-03", BALLAST, text=two) == 0.5
    assert left("2027-05-05", BALLAST, text=two) == 1.0


def test_no_more_than_all_is_lost() -> None:
    other = OUT.replace("blue-b", "blue-a")
    assert left("2027-05-03", OUT, other) == pytest.approx(0.0)
    assert left("2027-05-03", STOPS, BALLAST) == 0.0


def test_zones_get_less_and_rows_stay() -> None:
    program = compile_program(scheduled(OUT, text=TUBED), span("2027-05-01", "2027-05-04"))
    before, after = program.tables
    assert str(after.span and after.span.first) == "2027-05-03"
    assert before.rows == after.rows
    assert after.channels["blue"].brightness == pytest.approx(
        0.6 * before.channels["blue"].brightness
    )
    share = after.zones["sand"].dli.replay / before.zones["sand"].dli.replay
    assert share == pytest.approx(0.6)
    assert len(program.loads) == 1


def test_a_dead_tube_burns_no_hours() -> None:
    program = compile_program(scheduled(OUT, text=TUBED), span("2027-05-01", "2027-05-04"))
    lit = {id: use.hours.lit_seconds for id, use in program.tubes.items()}
    assert lit["blue-b"] * 2 == lit["blue-a"]


def test_a_channel_without_any_light() -> None:
    program = compile_program(scheduled(STOPS, text=TUBED), span("2027-05-02", "2027-05-03"))
    assert program.tables[1].zones["sand"].dli.replay == 0
    assert program.tables[1].zones["sand"].dli_at_end == 0


FADED = TUBED.replace(
    "{watts: 54, lit_hours: 500}",
    "{watts: 54, fitted: 2027-01-02, depreciation: {kind: exponential, loss_percent_per_1000_h: 30}}",
).replace("full_ppfd: {", "full_ppfd: {measured_on: 2027-01-05, ", 1)


#: Sand gets (11 × 0.8 + 4 × 0.02) h × 60 × 0.0036 from blue as measured on 5 January. [mol m⁻² d⁻¹]
MEASURED = 1.918
#: It is lit for 16 h a day, so that blue-a has 48 h then, and 1,936 h on 3 May; blue-b does not fade.
FADED_SHARE = (54 * 0.7**1.936 + 36) / (54 * 0.7**0.048 + 36)


@pytest.mark.parametrize(
    ("first", "without"), [("2027-05-02", MEASURED * FADED_SHARE), ("2027-05-03", MEASURED)]
)
def test_what_a_dark_channel_gave_is_that_of_its_faded_tubes(first: str, without: float) -> None:
    """They are known from dates before; from the first date on tubes count as measured."""
    program = compile_program(scheduled(STOPS, text=FADED), span(first, "2027-05-04"))
    (found,) = program.effects
    dose = found.doses[dt.date(2027, 5, 3)]["sand"]
    assert dose.without == pytest.approx(without, rel=0.02)
    assert dose.given == 0


def test_the_share_of_a_ballast() -> None:
    schedule = scheduled(BALLAST, text=TUBED)
    (part,) = PartLosses(schedule).parts
    assert lost_share(schedule.channels["blue"], part) == 1.0
    assert PartLosses(schedule).turns() == {dt.date(2027, 5, 3), dt.date(2027, 5, 5)}
