"""What is to be done when: dates by hand."""

from __future__ import annotations

import datetime as dt

from photoperiod.program.dated_tables import compile_program
from photoperiod.upkeep.agenda import READING_EVERY_DAYS, Errand, ErrandKind, agenda
from tests.changes.bench import scheduled, span
from tests.conftest import SCHEDULE, load
from tests.program import bench
from tests.program.test_part_losses import BALLAST, OUT, TUBED
from tests.upkeep.bench import program


def of(errands: tuple[Errand, ...], kind: ErrandKind) -> list[tuple[str, str]]:
    return [(each.what, each.date.isoformat()) for each in errands if each.kind is kind]


def test_new_tubes_bring_loads_burn_in_and_readings() -> None:
    # Tubes a and b are fitted on 2 March and owe 12 h: two days at full, then a reading
    found = agenda(bench.program(bench.march(1, 31)))
    assert of(found, ErrandKind.FIT) == [("a+b", "2027-03-02")]
    (burn_in,) = [each for each in found if each.kind is ErrandKind.BURN_IN]
    assert (burn_in.what, burn_in.begin, burn_in.end) == (
        "blue",
        dt.date(2027, 3, 2),
        dt.date(2027, 3, 3),
    )
    assert ("blue", "2027-03-04") in of(found, ErrandKind.READING)
    loads = [each for each in found if each.kind is ErrandKind.LOAD]
    assert len(loads) == 3
    # White, which is lit until 22:00, does not change: blue is dark from 21:00 to 09:00
    assert (loads[1].begin, loads[1].end) == (
        dt.datetime(2027, 3, 1, 21),
        dt.datetime(2027, 3, 2, 9),
    )
    assert loads[1].title == "Load 2: blue"
    assert (
        loads[1].words == "1 table between 2027-03-01 21:00 and 2027-03-02 09:00; up to 2027-03-03."
    )
    assert of(found, ErrandKind.COMPILE) == [("tables", "2027-03-31")]
    assert [each.date for each in found] == sorted(each.date for each in found)


def test_of_one_date_tubes_are_fitted_before_they_burn_in() -> None:
    """Tubes come at 08:00 of 2 March, and a burn-in is told of whole dates."""
    found = [e.kind for e in agenda(bench.program(bench.march(1, 31))) if e.date.day == 2]
    assert found.index(ErrandKind.FIT) < found.index(ErrandKind.BURN_IN)


def test_tubes_are_due_on_their_date() -> None:
    keys = ", fitted: 2027-01-01, replace_after_hours: 900"  # 9 h a day: the hundredth date
    found = agenda(program("2027-01-01", "2027-12-31", a=keys))
    assert of(found, ErrandKind.DUE) == [("a", "2027-04-10")]
    assert of(agenda(program("2027-01-01", "2027-03-31", a=keys)), ErrandKind.DUE) == []
    overdue = agenda(program("2027-06-01", "2027-06-30", a=keys))
    assert of(overdue, ErrandKind.DUE) == [("a", "2027-06-01")]


def test_ppfd_is_read_again_from_time_to_time() -> None:
    # Measured on 2027-01-01 (as the bench has it): again after 182 days, on 2 July, and on 31 December
    found = of(agenda(program("2027-01-01", "2027-12-31")), ErrandKind.READING)
    first = dt.date(2027, 1, 1) + dt.timedelta(days=READING_EVERY_DAYS)
    second = first + dt.timedelta(days=READING_EVERY_DAYS)
    assert found == [("blue", first.isoformat()), ("blue", second.isoformat())]


def test_ppfd_is_not_read_twice_where_new_tubes_are_near() -> None:
    """182 days after 1 January are 2 July; new tubes of 10 July are read on the 11th."""
    again = (dt.date(2027, 1, 1) + dt.timedelta(days=READING_EVERY_DAYS)).isoformat()

    def readings(fitted: str) -> list[tuple[str, str]]:
        keys = f", place: x}}\n  b: {{watts: 50, place: x, fitted: {fitted}"
        found = agenda(program("2027-01-01", "2027-12-01", a=keys, tubes="[a, b]"))
        return of(found, ErrandKind.READING)

    assert readings("2027-07-10") == [("blue", "2027-07-11")]
    assert readings("2027-08-10") == [("blue", again), ("blue", "2027-08-11")]


def test_new_tubes_whose_burn_in_waits_are_read_after_it() -> None:
    """Together both channels would give 250 in crest, and 200 are allowed: one burns in after the other."""
    keys = "fitted: 2027-03-02T08:00, burn_in_full_hours: 12"
    day = (
        "{kind: ramps, dawn: {start: 09:00, minutes: 60}, peaks: [{light_percent: 60}],"
        " dusk: {end: 21:00, minutes: 60}}"
    )
    begin = SCHEDULE.index("channels:\n  blue")
    text = SCHEDULE[:begin].replace("  blue-a: {watts: 54}\n", "") + "channels:\n"
    tubes = ""
    for id, full in (("blue", 130), ("white", 120)):
        tubes += f"  {id}-a: {{watts: 54, {keys}}}\n"
        text += (
            f"  {id}:\n    ballast: pair\n    tubes: [{id}-a]\n"
            f"    full_ppfd: {{zones: {{crest: {full}}}}}\n    day: {day}\n"
        )
    text = text.replace("tubes:\n", f"tubes:\n{tubes}", 1).replace("dli: [3, 5]", "dli: [3, 9]")
    outcome = load("test.yaml", f"{text}tank: bench\n".encode())
    assert outcome.schedule is not None, outcome.report
    found = agenda(compile_program(outcome.schedule, span("2027-03-01", "2027-03-31")))
    burn_ins = {e.what: e.end for e in found if e.kind is ErrandKind.BURN_IN}
    first, second = sorted(burn_ins, key=lambda id: str(burn_ins[id]))
    assert burn_ins[first] != burn_ins[second]
    readings = dict(of(found, ErrandKind.READING))
    for id, end in burn_ins.items():
        assert readings[id] == (end + dt.timedelta(days=1)).isoformat()


def test_why_ppfd_is_read_says_only_what_is_known_of_the_reading_before() -> None:
    def reasons(measured: str) -> list[str]:
        found = agenda(program("2027-03-01", "2027-12-31", measured=measured))
        readings = [each.words for each in found if each.kind is ErrandKind.READING]
        return [words.split(", because ")[1].split(".")[0] for words in readings]

    untold = reasons("")
    assert untold == ["no date of measuring is told", "182 days have passed"]
    # Measured on 2 January: 182 days later it is 3 July
    assert reasons("measured_on: 2027-01-02, ")[0] == "182 days have passed"
    assert reasons("measured_on: 2028-01-02, ") == [
        "its reading is of a later date, 2028-01-02",
        "182 days have passed",
    ]


def test_clocks_and_the_end_of_held_light_are_told() -> None:
    found = agenda(program("2027-03-01", "2027-04-30", clock="civil"))
    assert of(found, ErrandKind.CLOCK) == [("controller", "2027-03-28"), ("plan", "2027-03-28")]
    fade = ", fitted: 2027-01-01, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
    held = program(
        "2027-01-01",
        "2027-12-31",
        a=fade,
        light=95,
        hold="    hold_light: {dose_within_percent: 3}\n",
    )
    assert of(agenda(held), ErrandKind.HELD) == [("blue", "2027-06-27")]


def test_a_day_of_no_date_has_no_agenda() -> None:
    assert agenda(program()) == ()


def test_steps_of_an_acclimation_are_told_with_their_share() -> None:
    top = (
        "changes:\n  - {kind: acclimation, channels: [blue], from_date: 2027-01-04, over_days: 28,"
        " from_dose_percent: 60, every_days: 7}\n"
    )
    found = [
        each
        for each in agenda(program("2027-01-01", "2027-02-10", top=top))
        if each.kind is ErrandKind.STEP
    ]
    # From 60 % in four equal steps: 60, 70, 80, 90, and then the plan
    assert [(each.date.isoformat(), each.title) for each in found] == [
        ("2027-01-04", "Acclimation: 60 %"), ("2027-01-11", "Acclimation: 70 %"),
        ("2027-01-18", "Acclimation: 80 %"), ("2027-01-25", "Acclimation: 90 %"),
    ]  # fmt: skip


def test_a_part_that_is_out_is_told_on_its_date() -> None:
    found = agenda(
        compile_program(scheduled(OUT, BALLAST, text=TUBED), span("2027-05-01", "2027-05-06"))
    )
    tube, ballast = [each for each in found if each.kind is ErrandKind.OUT]
    assert tube.date == ballast.date == dt.date(2027, 5, 3)
    assert (tube.title, ballast.title) == ("Out: tube blue-b of blue", "Out: 1 ballast of blue")
    assert "`fitted`" in tube.words and "`fitted`" not in ballast.words
    assert "Unplug" in tube.words and "Unplug" in ballast.words
