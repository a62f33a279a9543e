"""A drawn schedule taken through all that `compile` and `export` do, in memory."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from photoperiod import api
from photoperiod.diagnostics.model import Report
from photoperiod.formats import (
    c_header,
    calendar,
    micropython,
    records_csv,
    table_image,
    table_json,
)
from photoperiod.formats.contents import contents_of
from photoperiod.formats.folder import render_all
from photoperiod.formats.ledger_json import ledger_state_before, parse_ledger, render_ledger
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.report.summary import render_summary
from photoperiod.report.text import counts_line, render_text
from photoperiod.source.document import Document
from tests.drawn.draw import Drawn

#: What the exports are called here.
EXPORTS = ("export.json", "export.csv", "export.bin", "export.h", "export.py")


@dataclass(frozen=True)
class Written:
    """What came of a schedule.

    Parameters
    ----------
    drawn : Drawn
        The schedule.
    dates : (date, date) or None
        What it was compiled for.
    compiled : Compiled or None
        None if no day could be built.
    codes, refusals : Counter
        The codes of all findings, and of those for which nothing may be written.
    files : dict of str to bytes
        The files of the folder; empty if it was refused.
    exports : dict of str to bytes
        The exported files, the calendar and the ledger; empty if it was refused.
    before : bytes or None
        The ledger of the dates before these.
    """

    drawn: Drawn
    dates: tuple[dt.date, dt.date] | None
    compiled: api.Compiled | None
    codes: Counter[str]
    refusals: Counter[str]
    files: dict[str, bytes] = field(default_factory=dict)
    exports: dict[str, bytes] = field(default_factory=dict)
    before: bytes | None = None

    @property
    def program(self) -> Program:
        """The program that was written."""
        assert self.compiled is not None
        return self.compiled.program

    @property
    def is_refused(self) -> bool:
        """Whether nothing may be written."""
        return self.compiled is None or self.compiled.report.has_errors


class NoSchedule(AssertionError):
    """A schedule that should be valid has a fault."""


def put_readings(drawn: Drawn, folder: Path) -> None:
    """Write the files of readings beside the schedule."""
    for name, content in drawn.files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def compile_drawn(drawn: Drawn, folder: Path) -> list[Written]:
    """Return what comes of a schedule for its dates, and with a ledger for those after them.

    Raises
    ------
    NoSchedule
        If it has a fault, although it should be valid.
    """
    put_readings(drawn, folder)
    try:
        loaded = api.load_text(drawn.name, drawn.text.encode(), folder if drawn.files else None)
    except api.ScheduleError as fault:
        raise NoSchedule(f"no schedule: {fault}") from None
    first = _compiled(drawn, loaded, drawn.dates, None)
    if first.compiled is not None and first.is_refused:
        _must_not_be_written(first.compiled, folder / "refused")
    if not drawn.with_ledger or first.is_refused or drawn.dates is None:
        return [first]
    length = drawn.dates[1] - drawn.dates[0] + dt.timedelta(days=1)
    after = drawn.dates[0] + length, drawn.dates[1] + length
    return [first, _compiled(drawn, loaded, after, first.exports["ledger.json"])]


def _compiled(
    drawn: Drawn, loaded: api.Loaded, dates: tuple[dt.date, dt.date] | None, book: bytes | None
) -> Written:
    held: dict[str, Any] | None = None
    state = None
    if book is not None and dates is not None:
        held = parse_ledger("ledger.json", book)
        state = ledger_state_before("ledger.json", held, loaded.schedule, DateSpan(*dates))
    try:
        compiled = api.compile(loaded, dates, ledger=state)
    except api.ScheduleError as fault:
        _print(fault.report, fault.document)
        assert fault.report.has_errors, "it was refused without an error"
        return Written(drawn, dates, None, *_counted(fault.report))
    _print(compiled.report, compiled.document)
    counts = _counted(compiled.report)
    if compiled.report.has_errors:
        return Written(drawn, dates, compiled, *counts)
    findings = compiled.report.sorted()
    files = render_all(compiled.program, findings)
    render_summary(compiled.program, findings)
    contents = contents_of(compiled.program, findings)
    image = table_image.image_of(contents)
    rendered = (
        table_json.write(contents),
        records_csv.write(contents),
        table_image.write(contents),
        c_header.render(image, contents.about),
        micropython.render(image, contents.about),
    )
    exports = dict(zip(EXPORTS, rendered, strict=True))
    if drawn.with_calendar:
        exports["calendar.ics"] = calendar.render(compiled.program)
    if drawn.with_ledger:
        exports["ledger.json"] = render_ledger(compiled.program, held)
    return Written(drawn, dates, compiled, *counts, files, exports, book)


def _must_not_be_written(compiled: api.Compiled, target: Path) -> None:
    """Assert that nothing is written of a table with a hard finding."""
    try:
        api.write(compiled, target)
    except api.ScheduleError:
        assert not target.exists(), "something was written, and refused"
        return
    raise AssertionError("a table with a hard finding was written")


def _counted(report: Report) -> tuple[Counter[str], Counter[str]]:
    """Return the codes of all findings, and of errors alone."""
    errors = (d.code for d in report if d.severity == "error")
    return Counter(d.code for d in report), Counter(errors)


def _print(report: Report, document: Document | None) -> None:
    """Make the text that a command prints of findings."""
    lines = document.lines if document else ()
    text = render_text(report, lines, show_all=True) + counts_line(report)
    assert "\x1b" not in text
    for finding in report:
        assert finding.source_range is not None, f"{finding.code} has no place"
