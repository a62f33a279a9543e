"""The values of what may move and of what was found."""

from __future__ import annotations

import dataclasses

import pytest

from photoperiod.schedule.moves import Found, FoundDose, MayMove


def test_nothing_moves_unless_it_is_said() -> None:
    assert MayMove() == MayMove(peak_light=None, day_s=None, together_with="")


def test_values_are_frozen() -> None:
    dose = FoundDose(zone="crest", wanted=(7.0, 7.0), dose=7.01, within=0.02)
    found = Found(doses=(dose,), days=())
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.doses = ()  # type: ignore[misc]
