"""``table.csv``: the rows for people and for controllers that read CSV (RFC 4180)."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.row_text import setpoints
from photoperiod.program.model import Program
from photoperiod.text import number_text

FILE_NAME = "table.csv"

COLUMNS = ("channel", "from_date", "time", "level_percent", "volts", "converter_code", "relay")


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return all tables; ``from_date`` is empty without dates, ``relay`` where rows hold none."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for table in program.controller_tables:
        from_date = "" if table.span is None else table.span.first.isoformat()
        for id, c in table.channels.items():
            for row in setpoints(program, c):
                writer.writerow(
                    (
                        id,
                        from_date,
                        row.time,
                        number_text(row.level_percent, 4),
                        f"{row.volts:.4f}",
                        row.converter_code,
                        row.relay,
                    )
                )
    return text.getvalue().encode()
