"""Doses of the page are those of an independent reader of `table.json`."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from photoperiod.formats import table_json
from photoperiod.page.dose import BRACKET_TOP, verdict, zone_doses
from photoperiod.page.figure import Figure
from photoperiod.program.dates import DateSpan
from photoperiod.schedule.model import Zone
from tests.page.pages import changed, compiled, example, page, program, table
from tests.page.plain_table import PlainTable


def doses(text: str) -> tuple[str, str, Figure]:
    found = program(text)
    (each, *_) = zone_doses(found, dict.fromkeys(found.channels, 0))
    return each.verdict, each.words, each.figure


def test_the_dose_is_that_of_the_file_second_by_second() -> None:
    found = compiled(example("smallest"))
    plain = PlainTable(table_json.render(found.program, found.findings))
    *_, together = table(page(example("smallest")), "rock: dose of a day")
    assert float(together[3]) == pytest.approx(plain.dli("rock"), abs=5e-4 + 1e-9)


def test_the_plan_is_the_dose_by_hand() -> None:
    """0.8 × 11 h × 130 × 0.0036 = 4.118: a linear ramp of an hour at each end of 12 h."""
    *_, together = table(page(), "crest: dose of a day")
    assert float(together[1]) == pytest.approx(0.8 * 11 * 130 * 0.0036, abs=5e-4)


@pytest.mark.parametrize(
    ("least", "most", "expected"),
    [
        (3.0, 5.0, "OK"),
        (2.9, 4.0, "low"),
        (4.0, 5.1, "high"),
        (2.0, 6.0, "low and high"),
    ],
)
def test_a_dose_is_right_low_or_high(least: float, most: float, expected: str) -> None:
    zone = Zone(id="crest", dli_band=(3.0, 5.0))
    assert verdict(zone, least, most, is_known=True) == expected


def test_a_dose_that_is_not_known_is_right_nowhere_but_may_be_high() -> None:
    zone = Zone(id="crest", dli_band=(3.0, 5.0))
    assert verdict(zone, 4.0, 4.0, is_known=False) == "not known"
    assert verdict(zone, 6.0, 6.0, is_known=False) == "high"
    assert verdict(zone, 2.0, 6.0, is_known=False) == "high"
    assert verdict(Zone(id="crest"), 4.0, 4.0, is_known=True) == "no band"


def test_words_say_the_same() -> None:
    told, words, _ = doses(changed(("dli: [3, 5]", "dli: [5, 9]")))
    assert told == "low"
    assert words.endswith("below 5 to 9.")


def test_the_bracket_stands_at_the_band_on_the_axis() -> None:
    _, _, figure = doses(changed())
    brackets = [shape for shape in figure.shapes if shape.look == "bracket"]
    begins = [float(re.match(r"M(\S+) ", shape.d)[1]) for shape in brackets]  # type: ignore[index]
    numbers = {w.text: w.x for w in figure.words if w.look == "middle" and w.y > BRACKET_TOP}
    assert begins == pytest.approx([numbers["3"], numbers["5"]], abs=0.06)


def test_shares_of_the_channels_end_at_the_dose() -> None:
    found = program(example("smallest"))
    (each,) = zone_doses(found, {"blue": 0, "white": 1})
    shares = [shape.d for shape in each.figure.shapes if shape.look.startswith("hatch")]
    ends = []
    for d in shares:
        left, width = re.match(r"M(\S+) \S+?h(\S+?)v", d).groups()  # type: ignore[union-attr]
        ends.append(float(left) + float(width))
    filled = next(shape.d for shape in each.figure.shapes if shape.look == "filled")
    assert ends[-1] == pytest.approx(float(re.match(r"M(\S+) ", filled)[1]), abs=0.15)  # type: ignore[index]
    assert len(shares) == 2


def test_shares_say_whose_they_are_where_there_are_several_tables() -> None:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    found = program(example("natural-year"), march)
    (each,) = zone_doses(found, dict.fromkeys(found.channels, 0))
    first = found.tables[0].span
    assert len(found.tables) > 1 and first is not None
    assert each.figure.caption.startswith(f"Shares: those of the first table, {first.first}")
    one = program(example("smallest"))
    assert zone_doses(one, {"blue": 0, "white": 1})[0].figure.caption == ""


def test_light_that_is_not_known_is_told() -> None:
    two = changed(
        ("tank: bench\n", ""),
        ("    full_ppfd: {zones: {crest: 130}}\n", "    full_ppfd: {zones: {crest: 130}}\n"),
    )
    extra = two + (
        "  white:\n    ballast: pair\n    day: {kind: ramps, dawn: {start: 11:00, minutes: 60},"
        " peaks: [{light_percent: 50}], dusk: {end: 19:00, minutes: 60}}\ntank: bench\n"
    )
    told, words, _ = doses(extra)
    assert told == "not known"
    assert "What white gives here is not known" in words


def test_less_on_dates_that_ask_for_it_is_as_planned() -> None:
    span = DateSpan(dt.date(2027, 6, 1), dt.date(2027, 6, 20))
    found = program(example("three-dark-days"), span)
    (each,) = zone_doses(found, dict.fromkeys(found.channels, 0))
    assert (each.verdict, each.is_right) == ("OK, on some dates lower as planned", True)
    months = DateSpan(dt.date(2027, 4, 1), dt.date(2027, 5, 15))
    corals = program(example("new-corals"), months)
    assert {each.verdict for each in zone_doses(corals, dict.fromkeys(corals.channels, 0))} == {
        "OK, on some dates lower as planned"
    }


def test_less_on_all_dates_that_ask_for_it_is_not_called_low() -> None:
    """June 7 to 9 are the dark days of the example, and 0 is below the band of its zone."""
    span = DateSpan(dt.date(2027, 6, 7), dt.date(2027, 6, 9))
    found = program(example("three-dark-days"), span)
    (each,) = zone_doses(found, dict.fromkeys(found.channels, 0))
    assert (each.verdict, each.is_right) == ("lower as planned", True)
