from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.dose_codes import DOSE_CODES


def test_codes_of_doses_are_in_the_table_and_can_not_be_accepted() -> None:
    assert len(DOSE_CODES) == 5
    for entry in DOSE_CODES:
        assert CODES[entry.code] is entry
        assert entry.severity == "error"
        assert not entry.is_hard
