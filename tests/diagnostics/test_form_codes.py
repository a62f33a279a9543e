from __future__ import annotations

from photoperiod.diagnostics.code import Severity
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.form_codes import FORM_CODES


def test_codes_of_form_are_errors_and_stand_in_the_table_first() -> None:
    assert [entry.code for entry in FORM_CODES] == list(CODES)[: len(FORM_CODES)]
    assert {entry.code[:4] for entry in FORM_CODES} == {"PHO1", "PHO2"}
    assert all(entry.severity is Severity.ERROR and not entry.is_hard for entry in FORM_CODES)
    assert not any(code[:4] in ("PHO1", "PHO2") for code in list(CODES)[len(FORM_CODES) :])
