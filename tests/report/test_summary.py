"""The summary for people: loads and tables with their dates."""

from __future__ import annotations

import datetime as dt

from photoperiod.dates import DateSpan
from photoperiod.report.summary import render_summary
from tests.conftest import ROOT, compiled

#: Tubes burn in on 2 and 3, 9 and 10 March, so that there are five tables.
TEXT = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")


def test_each_load_and_table_is_named_with_its_dates() -> None:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    text = render_summary(compiled(TEXT, march).program, [])
    for first, last in (("01", "01"), ("02", "03"), ("04", "08"), ("09", "10"), ("11", "31")):
        assert f"TABLE FROM 2027-03-{first} TO 2027-03-{last}\n" in text
        assert (
            f"  on 2027-03-{first}, before its first light: 1 table, up to 2027-03-{last}" in text
        )


def test_one_table_needs_no_list_of_loads() -> None:
    one = DateSpan(dt.date(2027, 3, 12), dt.date(2027, 3, 31))
    assert "LOADS" not in render_summary(compiled(TEXT, one).program, [])
