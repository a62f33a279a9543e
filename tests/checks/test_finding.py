from __future__ import annotations

from photoperiod.checks.finding import on_key, on_value, others
from photoperiod.diagnostics.model import Diagnostic, Related
from tests.checks.bench import loaded, marked


def placed(found: Diagnostic) -> tuple[int, int, str]:
    return marked(loaded().document.place(found))


def test_a_key_is_marked() -> None:
    found = on_key("PHO411", ("channels", "weak"), "a fact", "a way out")
    assert placed(found) == (28, 3, "weak")
    assert (found.code, found.message, found.help) == ("PHO411", "a fact", "a way out")


def test_a_value_is_marked() -> None:
    other = Related(message="its channel", path=("channels", "weak"))
    found = on_value("PHO406", ("tubes", "tube-a", "watts"), "a fact", "a way out", (other,))
    assert placed(found) == (22, 19, "54")
    assert (found.code, found.message, found.help) == ("PHO406", "a fact", "a way out")
    assert found.related == (other,)


def test_a_way_out_may_be_missing() -> None:
    assert on_key("PHO411", ("channels", "weak"), "a fact").help == ""
    found = on_value("PHO411", ("channels", "weak"), "a fact")
    assert (found.help, found.related) == ("", ())


def test_other_dates_are_counted_and_named() -> None:
    assert others([]) == others([], "in") == ""
    assert others(["2027-09-06"]) == "; and on 1 other date: 2027-09-06"
    assert others(["2027-09-06", "2027-11-01"], "in") == (
        "; and in 2 other tables, from 2027-09-06, 2027-11-01"
    )
    twelve = [f"2027-{month:02}-01" for month in range(1, 13)]
    assert others(twelve).endswith("2027-11-01, 2027-12-01")
    assert others([*twelve, "2028-01-01", "2028-02-01"]) == (
        f"; and on 14 other dates: {', '.join(twelve)} and so on, the last 2028-02-01"
    )
