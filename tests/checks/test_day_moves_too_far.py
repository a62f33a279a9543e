"""The day of a zone moves too far."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.checks.day_moves_too_far import day_moves_too_far
from photoperiod.checks.peak_jumps import peak_jumps
from photoperiod.program.dated_tables import compile_program
from photoperiod.tubes.hours import LastLight
from tests.changes.bench import TEXT, scheduled, span

CODE = "PHO441"

#: Channels without moonlight: the middle of the day is that of the ramps, 15:00.
PLAIN = TEXT.replace(
    "    moonlight: {kind: steady, light_percent: 2, start: 22:00, end: 02:00}\n", ""
)


def found(minutes_per_day: int, minutes: int, text: str = PLAIN) -> list[str]:
    speed = f"minutes_per_day: {minutes_per_day}, minutes: {minutes}"
    change = f"{{kind: moved-hours, from_date: 2027-07-02, {speed}}}"
    program = compile_program(scheduled(change, text=text), span("2027-07-01", "2027-07-05"))
    return [each.message for each in day_moves_too_far(program)]


def test_a_move_of_more_than_an_hour_at_once_is_told() -> None:
    told = found(90, -90)
    assert told == [
        f"the day of zone '{id}' moves on 2027-07-02 by 90 min to earlier hours, by more than 60 min"
        for id in ("crest", "sand")
    ]
    assert found(60, 60) == []
    assert found(30, 90) == []


def test_every_date_is_named_and_the_zone_sets_the_limit() -> None:
    text = PLAIN.replace(
        "sand: {ppfd_max: 300,", "sand: {day_moves_minutes_max: 20, ppfd_max: 300,"
    )
    (told,) = found(30, 60, text)
    assert told == (
        "the day of zone 'sand' moves on 2027-07-02 by 30 min to later hours, by more than 20 min;"
        " and on 1 other date: 2027-07-03 (30 min to later hours)"
    )


def test_the_ledger_knows_the_middle_of_the_day_before() -> None:
    plain = compile_program(scheduled(text=PLAIN), span("2027-07-01", "2027-07-02"))
    assert list(day_moves_too_far(plain)) == []
    early = LastLight(peak_ppfd=48.0, middle_s=13.5 * 3600)
    (told,) = day_moves_too_far(replace(plain, before={"sand": early}))
    assert "moves on 2027-07-01 by 90 min to later hours" in told.message
    assert told.code == CODE
    unknown = replace(early, middle_s=None)
    assert list(day_moves_too_far(replace(plain, before={"sand": unknown}))) == []


def test_moonlight_alone_is_no_day_that_moved() -> None:
    dark = "{kind: dark-days, from_date: 2027-07-02, days: 2, keep_moonlight: true}"
    program = compile_program(scheduled(dark, text=TEXT), span("2027-07-01", "2027-07-05"))
    assert program.tables[1].zones["crest"].peak_ppfd > 1  # the moon
    assert list(day_moves_too_far(program)) == []
    assert list(peak_jumps(program)) == []
