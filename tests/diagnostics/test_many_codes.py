from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.many_codes import MANY_CODES


def test_codes_of_many_tanks_are_in_the_table_and_can_not_be_accepted() -> None:
    assert len(MANY_CODES) == 6
    for entry in MANY_CODES:
        assert CODES[entry.code] is entry
        assert entry.severity == "error"
        assert not entry.is_hard
