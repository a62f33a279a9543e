from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.page_codes import PAGE_CODES


def test_codes_of_the_page_are_in_the_table_and_can_not_be_accepted() -> None:
    assert len(PAGE_CODES) == 2
    for entry in PAGE_CODES:
        assert CODES[entry.code] is entry
        assert entry.severity == "error"
        assert not entry.is_hard
