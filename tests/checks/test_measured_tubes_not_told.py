from __future__ import annotations

import pytest

from tests.checks.bench import finding, findings, handmade, marked
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
