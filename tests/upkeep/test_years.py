from __future__ import annotations

from photoperiod.upkeep.comparison import POLICIES
from photoperiod.upkeep.years import tube_years
from tests.upkeep.bench import program


def test_policies_are_compared_where_it_is_asked_for() -> None:
    p = program("2027-01-01", "2027-12-31", a=", fitted: 2027-01-01, replace_after_hours: 900")
    found = tube_years(p)
    assert [each.tube.id for each in found.tubes] == ["a"]
    assert len(found.policies) == len(POLICIES)
    assert tube_years(p, compare=False).policies == ()
