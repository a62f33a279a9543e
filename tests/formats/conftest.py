from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.formats.folder import render_all
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import ROOT, compiled

#: An example in which tubes burn in, so that there are several dated tables.
NEW_TUBES = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


@pytest.fixture(scope="session")
def march() -> tuple[Program, dict[str, bytes]]:
    """March of the example, and the files that compile makes of it."""
    program = compiled(NEW_TUBES, MARCH).program
    return program, render_all(program, [])
