"""Which line stands apart, by hand for each file."""

from __future__ import annotations

import pytest

from photoperiod.source.yaml_indent import beside_nothing, hard_space, too_deep


def lines(*texts: str) -> list[str]:
    return list(texts)


@pytest.mark.parametrize(
    ("text", "number", "found"),
    [
        # the second line alone is deeper: it is the one
        (lines("a: 1", " b: 2", "c: 3"), 2, (2, 2, "by 1 space, the line above it by 0")),
        # all that follow the first line are deeper: the first one is
        (lines("m:", "  a: 1", "   b: 2", "   c: 3"), 3, (2, 3, "by 2 spaces, the lines after it by 3")),
        # ... but not if it stands beside a line before it
        (lines("m:", "  z: 0", "  a: 1", "   b: 2", "   c: 3"), 4, (4, 4, "the line above it by 2")),
        # comments, empty lines and what stands in brackets do not count
        (lines("m: {", "     x: 1}", "a: 1", "", "# b", " b: 2"), 6, (6, 2, "by 0")),
        (lines("- a: 1", "   b: 2"), 2, (2, 4, "by 3 spaces, the line above it by 2")),
        # no value above, or not deeper: another fault
        (lines("a:", "  b: 1"), 2, None),
        (lines("a: 1", "b: c: 2"), 2, None),
        (lines("a: b: c"), 1, None),
    ],
)  # fmt: skip
def test_a_key_that_is_deeper_than_the_line_above(
    text: list[str], number: int, found: tuple[int, int, str] | None
) -> None:
    wrong = too_deep(text, number)
    if found is None:
        assert wrong is None
        return
    assert wrong is not None and wrong.message.endswith(found[2])
    assert (wrong.source_range.line, wrong.source_range.column) == found[:2]


@pytest.mark.parametrize(
    ("text", "number", "found"),
    [
        (lines("a:", "  b: 1", "  c: 2", " d: 3"), 4, (4, 2, "by 1 space, the lines above it by 0 or 2")),
        # the only key of its block is the one if those after the fault agree with each other
        (lines("a:", "   b: 1", "  c: 2", "  d: 3"), 3, (2, 4, "by 3 spaces, the lines after it by 2")),
        # what is inside the first key does not count as its neighbour
        (lines("a:", "   b:", "      x: 1", "  c: 2", "  d: 3"), 4, (2, 4, "the lines after it by 2")),
        (lines("a:", "   b: 1", "  c: 2", "e: 3"), 3, (3, 3, "the lines above it by 0 or 3")),
        # beside a key above: another fault
        (lines("a:", "  b: 1", "c: 2"), 3, None),
        (lines("a: 1", "  b: 1"), 2, None),
    ],
)  # fmt: skip
def test_a_key_beside_none_of_the_keys_above(
    text: list[str], number: int, found: tuple[int, int, str] | None
) -> None:
    wrong = beside_nothing(text, number)
    if found is None:
        assert wrong is None
        return
    assert wrong is not None and wrong.message.endswith(found[2])
    assert (wrong.source_range.line, wrong.source_range.column) == found[:2]


@pytest.mark.parametrize(
    ("text", "number", "place"),
    [
        (lines("a:\u00a01", "b: 2"), 2, (1, 3)),
        (lines("a: 1", " \u2003b: 2"), 2, (2, 2)),
        (lines("-\u202f1"), 1, (1, 2)),
        (lines("a:\u00a01", "# why", "", "b: 2"), 4, (1, 3)),
        (lines("a:\u00a01", "b: 2", "c: 3", "d: 4"), 3, (1, 3)),
        (lines("a:\u00a01", "b: 2", "c: 3", "d: 4"), 4, None),  # too far above
        (lines("a: some\u00a0text", "b: c: 2"), 2, None),  # inside a text it is allowed
        (lines("a: 1"), 2, None),  # the end of the file
    ],
)
def test_a_hard_space(text: list[str], number: int, place: tuple[int, int] | None) -> None:
    found = hard_space(text, number)
    assert (found and (found.line, found.column)) == place
