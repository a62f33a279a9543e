"""What the shared helpers of these tests promise."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from tests.conftest import naming, pytest_collection_modifyitems


@pytest.mark.parametrize(("with_slow", "kept"), [(True, ["quick", "slow"]), (False, ["quick"])])
def test_long_sweeps_are_deselected_unless_they_are_asked_for(
    with_slow: bool, kept: list[str]
) -> None:
    deselected: list[str] = []
    config = SimpleNamespace(
        getoption=lambda name: {"--slow": with_slow}[name],
        hook=SimpleNamespace(
            pytest_deselected=lambda items: deselected.extend(item.name for item in items)
        ),
    )
    items = [
        SimpleNamespace(name=name, get_closest_marker={name: True}.get)
        for name in ("quick", "slow")
    ]
    pytest_collection_modifyitems(config, items)
    assert [item.name for item in items] == kept
    assert deselected == [name for name in ("quick", "slow") if name not in kept]


def test_the_input_that_fails_is_named() -> None:
    with pytest.raises(AssertionError) as failed:
        for number in range(3):
            with naming(f"number {number}"):
                assert number != 1
    assert failed.value.__notes__ == ["the input: 'number 1'"]
