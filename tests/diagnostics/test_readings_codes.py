from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.readings_codes import READINGS_CODES


def test_codes_of_readings_are_a_hundred_of_their_own_without_gaps() -> None:
    numbers = [int(entry.code.removeprefix("PHO")) for entry in READINGS_CODES]
    assert numbers == list(range(901, 901 + len(numbers)))
    assert {entry.code for entry in READINGS_CODES} == {c for c in CODES if c.startswith("PHO9")}
    assert not any(entry.is_hard for entry in READINGS_CODES)
