from __future__ import annotations

import pytest

from tests.checks.bench import Day, bench, findings, handmade, marked, on

CODE = "PHO451"

#: 10 % of the light goes in each 1,000 hours after the first 100: 0.9 ** 8.9 = 0.3915 is left after 9,000.
LOSS = "depreciation: {kind: exponential, loss_percent_per_1000_h: 10}"


def told(*tubes: str, first: int = 1, channel: str = "weak") -> list[str]:
    """Return what is found of a channel with these tubes, on dates from one of March to the 9th."""
    names = [f"t{n}" for n in range(len(tubes))]
    old, id = ("tube-a", "weak") if channel == "weak" else ("tube-b", "strong")
    text = bench(
        (
            f"  {old}: {{watts: 54}}\n",
            "".join(f"  {n}: {{{t}}}\n" for n, t in zip(names, tubes, strict=True)),
        ),
        (f"[{old}]", f"[{', '.join(names)}]"),
    )
    found = findings(CODE, handmade(text, Day(first=on(first), last=on(9))), text)
    if found:
        line = text[: text.index(f"    tubes: [{names[0]}")].count("\n") + 1
        assert (found[0].path, marked(found[0], text)) == (
            ("channels", id, "tubes"),
            (line, 5, "tubes"),
        )
    return [each.message for each in found]


def test_what_is_taken_until_a_tube_is_fitted_is_told() -> None:
    assert told("watts: 54, fitted: 2027-03-04T08:00") == [
        "older tubes are taken to burn in channel 'weak', in place 't0' until 2027-03-04 08:00: what they had"
        " lost is not known, so that they count like the tubes that are named"
    ]
    assert told(f"watts: 54, fitted: 2027-03-04T08:00, replace_after_hours: 9000, {LOSS}") == [
        "older tubes are taken to burn in channel 'weak', in place 't0' until 2027-03-04 08:00: they count as"
        " worn out, at 39.2 % of their declared light"
    ]


@pytest.mark.parametrize(
    ("tubes", "is_found"),
    [
        (["watts: 54"], False),
        (["watts: 54, fitted: 2027-03-01T08:00"], False),  # on the first date itself
        (["watts: 54, fitted: 2027-03-02"], True),
        (["watts: 54, fitted: 2028-03-02"], True),  # after all dates
        (["watts: 54, place: left", "watts: 54, place: left, fitted: 2027-03-04"], False),
        (["watts: 54", "watts: 54, fitted: 2027-03-04"], True),  # one of two places
    ],
)
def test_a_place_whose_old_tube_is_named_is_no_finding(tubes: list[str], is_found: bool) -> None:
    assert bool(told(*tubes)) is is_found


def test_each_place_and_each_channel_is_told() -> None:
    (found,) = told("watts: 54, fitted: 2027-03-04", "watts: 54, fitted: 2027-03-06T09:30")
    assert (
        "in place 't0' until 2027-03-04 00:00 and place 't1' until 2027-03-06 09:30: what" in found
    )
    assert told("watts: 54, fitted: 2027-03-04", channel="strong")[0].startswith(
        "older tubes are taken to burn in channel 'strong', in place 't0'"
    )


def test_without_a_date_there_is_no_until() -> None:
    text = bench(("tube-a: {watts: 54}", "tube-a: {watts: 54, fitted: 2027-03-04}"))
    assert findings(CODE, handmade(text), text) == []


def test_a_channel_that_is_dark_until_then_needs_no_tube() -> None:
    text = bench(("tube-a: {watts: 54}", "tube-a: {watts: 54, fitted: 2027-03-04}"))
    dark = {"weak": [("08:00", 0)]}
    days = (Day(first=on(1), last=on(3), levels=dark), Day(first=on(4), last=on(9)))
    assert findings(CODE, handmade(text, *days), text) == []
    days = (Day(first=on(1), levels=dark), Day(first=on(2), last=on(9)))
    assert len(findings(CODE, handmade(text, *days), text)) == 1
