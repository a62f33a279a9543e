from __future__ import annotations

from photoperiod.upkeep.tube_costs import tube_costs
from tests.upkeep.bench import program

TOP = "costs: {currency: EUR}\n"


def test_tubes_fitted_within_the_dates_are_paid_for() -> None:
    p = program("2027-01-01", "2027-12-31", top=TOP, a=", fitted: 2027-05-02T08:00, price: 14.5")
    assert tube_costs(p).total == 14.5
    assert tube_costs(p, 2027, 5).total == 14.5
    assert (tube_costs(p, 2027, 4).fitted, tube_costs(p, 2027, 4).total) == ((), 0)
    assert (
        tube_costs(program("2027-06-01", "2027-06-30", top=TOP, a=", fitted: 2027-05-02")).fitted
        == ()
    )


def test_a_price_that_is_missing_is_named() -> None:
    costs = tube_costs(program("2027-05-01", "2027-05-31", top=TOP, a=", fitted: 2027-05-02"))
    assert (costs.total, costs.without_price) == (None, ("a",))
