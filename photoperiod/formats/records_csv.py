"""One CSV file for programs: a record on what it is, one for each row, and a checksum (RFC 4180).

``table.csv`` is for people; this one is read back, and says everything in whole numbers.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.row_text import setpoints
from photoperiod.formats.table import CSV_COLUMNS, csv_end
from photoperiod.formats.table_json import about
from photoperiod.program.model import Program


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return all tables as records, as ``docs/exports.md`` describes them."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(CSV_COLUMNS)
    told = json.dumps(about(program, findings), ensure_ascii=True, separators=(",", ":"))
    writer.writerow(("about", "", "", "", "", "", "", told))
    records = 1
    for table in program.controller_tables:
        from_date = "" if table.span is None else table.span.first.isoformat()
        for id, c in table.channels.items():
            for row in setpoints(program, c):
                writer.writerow(
                    ("row", id, from_date, row.second, row.count, row.converter_code, row.relay, "")
                )
                records += 1
    body = text.getvalue().encode()
    return body + csv_end(body, records)
