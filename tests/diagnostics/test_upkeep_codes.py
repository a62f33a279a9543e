from __future__ import annotations

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.upkeep_codes import UPKEEP_CODES


def test_the_table_of_all_codes_holds_them() -> None:
    assert all(CODES[code.code] is code for code in UPKEEP_CODES)
