from __future__ import annotations

from photoperiod.diagnostics.change_codes import CHANGE_CODES
from photoperiod.diagnostics.codes import CODES


def test_codes_of_changes_are_in_the_table_and_can_not_be_accepted() -> None:
    assert len(CHANGE_CODES) == 8
    for entry in CHANGE_CODES:
        assert CODES[entry.code] is entry
        assert not entry.is_hard
        # A fault of meaning, or of a day that can't be built, stops a run; a check of changes never does.
        assert (entry.severity == "error") == (entry.code[3] in "38"), entry.code
