from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from photoperiod.page.contents import Contents, contents_of, doses_words
from photoperiod.page.dose import LOWER, SOMETIMES_LOWER, ZoneDose
from photoperiod.page.figure import Figure
from photoperiod.program.dates import DateSpan
from tests.page.pages import TWO_WEEKS, changed, compiled, example


def contents(text: str, *, dated: bool = False) -> Contents:
    found = compiled(text, TWO_WEEKS if dated else None)
    lines = found.document.lines if found.document else ()
    return contents_of(found.program, found.report, lines, found.loaded.readings)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ((), "The dose is right in every zone. Nothing was found to complain of."),
        (
            (("dli: [3, 5]", "dli: [5, 9]"),),
            "Not every dose is right: crest low. Findings: 1 warning.",
        ),
        ((("dli: [3, 5], ", ""),), "No zone has a band for its dose."),
        (
            (("dark_hours_min: 8", "dark_hours_min: 13"),),
            "The dose is right in every zone. The night is too short in crest. Findings: 1 warning.",
        ),
    ],
)
def test_the_page_in_a_few_sentences(change: tuple[tuple[str, str], ...], expected: str) -> None:
    assert contents(changed(*change)).verdict.startswith(expected)


def test_every_question_has_its_answer() -> None:
    found = contents(example("smallest"), dated=True)
    assert found.days[0].zones
    assert found.doses
    assert found.year
    assert not found.is_year
    assert found.agenda
    assert found.errands
    assert found.not_guarded.startswith("not guarded: rise within a minute")


def test_where_it_is_from() -> None:
    found = dict(contents(example("smallest")).provenance)
    program = compiled(example("smallest")).program
    assert found["Schedule, SHA-256"] == program.schedule.digest
    assert found["Made with"].startswith("photoperiod ")
    assert found["Zone data"].startswith("tzdata ")
    assert found["Valid for"] == "any date"


def test_a_broken_limit_leaves_out_the_rows_and_says_so() -> None:
    found = contents(changed(("ppfd_max: 200", "ppfd_max: 90")))
    assert found.is_refused
    captions = [each.caption for each in found.days[0].channels.numbers]
    assert captions == ["Light % / level % at each hour"]


def test_what_else_is_known_of_the_light_is_told() -> None:
    ek = contents(changed(("dli: [3, 5]", "dli: [3, 5], ek_ppfd: 80")))
    assert "at Ek (80) or above" in ek.of_light[0]
    asked = contents(example("asked-dose"))
    assert any("mol" in line for line in asked.of_light)


def test_a_moon_counts_as_shown_by_half_of_its_light() -> None:
    found = compiled(changed(), TWO_WEEKS)
    program = replace(found.program, moon_nights={"blue": (3, 5, 0)})
    (line,) = contents_of(program, found.report, (), {}).of_light
    assert line == "blue shows half of the moon's light or more on 3 of 5 dates that have a moon"


def test_what_changes_do_is_told() -> None:
    span = DateSpan(dt.date(2027, 6, 1), dt.date(2027, 6, 20))
    found = compiled(example("three-dark-days"), span)
    told = contents_of(found.program, found.report, (), {})
    assert any("2027-06-07 to 2027-06-09" in line for line in told.of_light)
    lagoon = "No dose is wrong. It is below its band, as planned, in lagoon on some dates."
    assert told.verdict.startswith(lagoon)


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        ("OK; OK", "The dose is right in every zone."),
        ("OK; no band", "The dose is right in 1 zone; the others have no band."),
        ("no band", "No zone has a band for its dose."),
        ("low; OK", "Not every dose is right: a low."),
        (
            "low; not known",
            "Not every dose is right: a low. Not every dose is known: it is not in b.",
        ),
        ("not known; OK", "Not every dose is known: it is not in a."),
        (f"{SOMETIMES_LOWER}; high", "Not every dose is right: b high."),
        (
            f"{SOMETIMES_LOWER}; {LOWER}; no band",
            "No dose is wrong. It is below its band, as planned, in a on some dates and in b on all"
            " dates; the others have no band.",
        ),
    ],
)
def test_the_first_sentence_says_what_the_verdicts_of_zones_say(
    verdicts: str, expected: str
) -> None:
    figure = Figure(id="dose", title="", about="", height=1.0, shapes=(), words=())
    doses = [
        ZoneDose(name, verdict, "", figure)
        for name, verdict in zip("abc", verdicts.split("; "), strict=False)
    ]
    assert doses_words(doses) == expected


def test_no_zone_no_dose() -> None:
    assert doses_words([]) == "No zone is described, so no dose is known."
