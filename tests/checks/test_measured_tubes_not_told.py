from __future__ import annotations

import pytest

from tests.checks.bench import bench, finding, findings, handmade, marked
from tests.checks.test_limit_not_shown import FADING, MEASURED, with_tube

CODE = "PHO431"


def test_a_tube_that_is_taken_as_worn_out_is_told() -> None:
    points = (
        "depreciation: {kind: points, points: [{lit_hours: 100, light_percent: 100},"
        " {lit_hours: 8100, light_percent: 60}]}"
    )
    text = with_tube(f", fitted: 2027-03-01, replace_after_hours: 6100, {points}", MEASURED)
    found = finding(CODE, handmade(text), text)
    assert marked(found, text)[2] == "full_ppfd"
    assert found.path == ("channels", "weak", "full_ppfd")
    # 40 % in 8,000 h are 30 % in 6,000 h
    assert found.message == (
        "when PPFD of channel 'weak' was measured, it is not told which tube stood in place 'tube-a':"
        " it is taken as worn out, at 70 % of its declared light"
    )


@pytest.mark.parametrize(
    ("keys", "is_measured", "is_found"),
    [
        (", fitted: 2027-03-01", True, True),
        (", fitted: 2027-02-20", True, False),
        (f", fitted: 2027-03-01, {FADING}", True, True),
        (f", {FADING}", False, False),
        (f", replace_after_hours: 8000, {FADING}", False, True),
        ("", False, False),
    ],
)
def test_a_tube_that_was_not_there(keys: str, is_measured: bool, is_found: bool) -> None:
    text = with_tube(keys, *[MEASURED] * is_measured)
    found = findings(CODE, handmade(text), text)
    assert len(found) == is_found
    if found and "replace_after" not in keys:
        assert (
            "its loss is not declared, and the doses that new tubes give are not sure"
            in found[0].message
        )


OLD_AND_NEW = (
    "  tube-a: {watts: 54}\n",
    "  tube-a: {watts: 54, place: p1}\n"
    "  tube-c: {watts: 54, place: p1, fitted: 2027-03-01}\n",
)  # fmt: skip


def test_a_tube_that_is_told_without_its_loss_is_named() -> None:
    text = bench(OLD_AND_NEW, MEASURED, ("tubes: [tube-a]", "tubes: [tube-a, tube-c]"))
    found = finding(CODE, handmade(text), text)
    assert marked(found, text)[2] == "full_ppfd"
    assert found.message == (
        "when PPFD of channel 'weak' was measured, tube 'tube-a' stood in place 'p1', and what it had lost"
        " is not declared: the doses that new tubes give are not sure"
    )
    assert found.help.startswith("write the `depreciation` of this tube, or measure again")
    told = text.replace("place: p1}", f"place: p1, {FADING}}}")
    assert findings(CODE, handmade(told), told) == []


def test_places_of_each_kind_have_a_finding_of_their_own() -> None:
    worn = f"{{watts: 54, fitted: 2027-03-01, replace_after_hours: 8000, {FADING}}}"
    text = bench(
        (OLD_AND_NEW[0], OLD_AND_NEW[1] + "  tube-d: {watts: 54, fitted: 2027-03-01}\n"
         f"  tube-e: {worn}\n"),
        MEASURED,
        ("tubes: [tube-a]", "tubes: [tube-a, tube-c, tube-d, tube-e]"),
    )  # fmt: skip
    found = findings(CODE, handmade(text), text)
    places = [each.message.split(" in place ")[1].split(",")[0].split(":")[0] for each in found]
    assert places == ["'tube-e'", "'tube-d'", "'p1'"]
