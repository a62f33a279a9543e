"""Dates of replacement, counted by hand."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import Program
from photoperiod.upkeep.policies import (
    NO_HOURS,
    NO_LIFE,
    NO_LIGHT,
    Policy,
    Replacements,
    fitted_together,
    places_of,
    with_replacements,
)
from tests.conftest import load
from tests.upkeep.bench import SQUARE, USUAL, span

#: Four tubes of a pair of channels' length of life, nine months.
NINE = ", fitted: 2027-01-01, replace_after_months: 9, price: 10, burn_in_full_hours: 0"


def four(
    keys: str | tuple[str, ...] = NINE, years: int = 5, costs: str = "currency: EUR"
) -> Program:
    text = SQUARE.format(
        **(USUAL | {"top": f"costs: {{{costs}}}\n", "watts": "{full: 200, floor: 50}"})
    )
    each = (keys,) * 4 if isinstance(keys, str) else keys
    tubes = "".join(f"  {id}: {{watts: 50{k}}}\n" for id, k in zip("abcd", each, strict=True))
    text = text.replace("  a: {watts: 50}\n", tubes).replace("tubes: [a]", "tubes: [a, b, c, d]")
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return compile_program(outcome.schedule, span("2027-01-01", f"{2026 + years}-12-31"))


def dates(program: Program, policy: Policy) -> dict[str, list[str]]:
    found = Replacements(program).of(policy)
    assert not isinstance(found, str)
    return {place.tube.id: [each.isoformat() for each in when] for place, when in found.items()}


def test_a_set_every_nine_months_makes_seven_in_five_years() -> None:
    # The first, and one after 9, 18, 27, 36, 45 and 54 of 60 months: common practice, no source
    found = dates(four(), Policy.AT_ONCE)
    wanted = ["2027-10-01", "2028-07-01", "2029-04-01", "2030-01-01", "2030-10-01", "2031-07-01"]
    assert found == dict.fromkeys("abcd", wanted)
    program = four()
    tried = with_replacements(
        program.schedule,
        dt.date(2027, 1, 1),
        Replacements(program).of(Policy.AT_ONCE),  # type: ignore[arg-type]
    )
    assert len(tried.tubes) == 7 * 4


def test_halves_are_half_a_life_apart_and_never_overdue() -> None:
    found = dates(four(), Policy.HALVES)
    assert found["a"] == found["c"] and found["b"] == found["d"]
    first, second = (dt.date.fromisoformat(found[id][0]) for id in "ab")
    # Nine months from New Year are 273 days; the first half comes 136 days before the first is due
    assert (second - first).days == 136
    assert first == dt.date(2027, 10, 1) - dt.timedelta(days=136)
    for when in found.values():
        parsed = [dt.date.fromisoformat(each) for each in when]
        gaps = {(b - a).days for a, b in itertools.pairwise(parsed)}
        assert gaps == {272}


def test_each_by_its_own_hours() -> None:
    # 900 h at 9 h a day: every hundred days, first on 10 April, when the hundredth is over
    program = four(", fitted: 2027-01-01, replace_after_hours: 900", years=1)
    found = dates(program, Policy.HOURS)
    assert found["a"] == ["2027-04-10", "2027-07-18", "2027-10-25"]


@pytest.mark.parametrize(
    ("keys", "policy", "why"),
    [
        ("", Policy.AT_ONCE, NO_LIFE), ("", Policy.HALVES, NO_LIFE), (NINE, Policy.HOURS, NO_HOURS),
        ("", Policy.HOURS, NO_HOURS), (NINE, Policy.LIGHT, NO_LIGHT),
        (", replace_below_percent: 90, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}",
         Policy.LIGHT, NO_LIGHT),
    ],
)  # fmt: skip
def test_what_can_not_be_told_is_not(keys: str, policy: Policy, why: str) -> None:
    assert Replacements(four(keys, years=1)).of(policy) == why


def test_fittings_that_lie_near_each_other_may_be_on_one_date() -> None:
    keys = tuple(
        f", place: {id}, fitted: {fitted}"
        for id, fitted in zip(
            "abcd", ("2027-03-02", "2027-03-30", "2027-03-31", "2027-09-01"), strict=True
        )
    )
    schedule = four(keys, years=1).schedule
    first, last = dt.date(2027, 1, 1), dt.date(2027, 12, 31)
    together = fitted_together(schedule, first, last)
    assert together is not None
    dates = [tube.fitted and tube.fitted.date().isoformat() for tube in together.tubes.values()]
    # 28 days from 2 March are 30 March; 31 March begins anew
    assert dates == ["2027-03-02", "2027-03-02", "2027-03-31", "2027-09-01"]
    assert [tube.fitted for tube in together.channels["blue"].tubes] == [
        tube.fitted for tube in together.tubes.values()
    ]
    assert fitted_together(schedule, first, dt.date(2027, 3, 29)) is None
    assert fitted_together(four(years=1).schedule, first, last) is None


def test_tubes_of_the_file_that_come_later_are_left_to_the_policy() -> None:
    keys = ", place: left, fitted: 2026-05-01, burn_in_full_hours: 12, replace_after_hours: 9000"
    later = "  b: {watts: 50, place: left, fitted: 2027-06-01}\nzones:\n  crest"
    text = SQUARE.format(**(USUAL | {"a": keys})).replace("zones:\n  crest", later)
    text = text.replace("tubes: [a]", "tubes: [a, b]")
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None
    program = compile_program(schedule, span("2027-01-01", "2027-12-31"))
    (place,) = places_of(program)
    assert (place.tube.id, place.burn_in_full_hours) == ("a", 12)
    changed = with_replacements(schedule, dt.date(2027, 1, 1), {place: [dt.date(2027, 3, 1)]})
    assert list(changed.tubes) == ["a", "left-new-1"]
    new = changed.tubes["left-new-1"]
    assert (new.fitted, new.burn_in_full_hours, new.lit_hours) == (dt.datetime(2027, 3, 1), 12, 0)
    assert [tube.id for tube in changed.channels["blue"].tubes] == ["a", "left-new-1"]
