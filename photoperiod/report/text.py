"""A report as text for a person: place, severity, code, message, source line, and what to try."""

from __future__ import annotations

from collections.abc import Callable

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Report, SourceRange
from photoperiod.diagnostics.unguarded import unguarded_line
from photoperiod.text import safe, width

#: Longest stretch of a source line that is shown.
SHOWN_COLUMNS = 100

#: How many diagnostics are shown unless all are asked for.
SHOWN_DIAGNOSTICS = 50

_COLOURS = {
    Severity.ERROR: "31;1",
    Severity.WARNING: "33;1",
    Severity.ACCEPTED: "35;1",
    Severity.NOTE: "36;1",
}

Paint = Callable[[str, str], str]


def render_text(
    report: Report, lines: list[str], *, colour: bool = False, show_all: bool = False
) -> str:
    """Return a report as text.

    Parameters
    ----------
    report : Report
        The findings.
    lines : list of str
        The lines of the source, for excerpts.
    colour : bool
        True to use terminal colours.
    show_all : bool
        True to show more than `SHOWN_DIAGNOSTICS`.
    """
    paint: Paint = _painted if colour else _plain
    ordered = report.sorted()
    full = [d for d in ordered if d.severity is not Severity.NOTE]
    notes = [d for d in ordered if d.severity is Severity.NOTE]
    most = len(ordered) if show_all else SHOWN_DIAGNOSTICS
    blocks = [_block(report.file, d, lines, paint) for d in full[:most]]
    if notes:
        blocks.append("\n".join(_note(report.file, d, paint) for d in notes[:most]) + "\n")
    hidden = max(len(full) - most, 0) + max(len(notes) - most, 0)
    if hidden:
        blocks.append(f"… and {hidden} more; `--all` shows them\n")
    for name, why in sorted(report.not_run.items()):
        blocks.append(f"not checked: {name} ({why})\n")
    if report.not_guarded:
        blocks.append(f"{safe(unguarded_line(report.not_guarded))}\n")
    return "\n".join(blocks)


def counts_line(report: Report) -> str:
    """Return one line with the number of findings of each severity."""
    words = []
    for severity in (Severity.ERROR, Severity.WARNING, Severity.ACCEPTED, Severity.NOTE):
        count = report.count(severity)
        if count and severity is Severity.ACCEPTED:
            words.append(f"{count} accepted")
        elif count:
            words.append(f"{count} {severity}{'' if count == 1 else 's'}")
    nothing = "nothing to complain of"
    if report.not_guarded:
        nothing += " in what is guarded"
    line = f"{safe(report.file)}: {', '.join(words) or nothing}"
    grave = [d for d in report.sorted() if d.severity is not Severity.NOTE]
    if grave:
        gravest = min(grave, key=lambda d: list(Severity).index(d.severity))
        line += f"; `photoperiod explain {gravest.code}` tells more"
    return line


def _plain(text: str, _colour: str) -> str:
    return text


def _painted(text: str, colour: str) -> str:
    return f"\x1b[{colour}m{text}\x1b[0m"


def _place(file: str, source_range: SourceRange | None) -> str:
    return safe(file) + (f":{source_range.line}:{source_range.column}" if source_range else "")


def _heading(file: str, d: Diagnostic, paint: Paint) -> str:
    label = paint(f"{d.severity} {d.code}", _COLOURS[d.severity])
    return f"{_place(file, d.source_range)}  {label} {d.name}"


def _note(file: str, d: Diagnostic, paint: Paint) -> str:
    return f"{_heading(file, d, paint)}: {safe(d.message)}"


def _block(file: str, d: Diagnostic, lines: list[str], paint: Paint) -> str:
    out = [_heading(file, d, paint), f"  {safe(d.message)}"]
    if d.source_range:
        out += excerpt(lines, d.source_range, paint, _COLOURS[d.severity])
    if d.accepted is not None:
        out.append(f"  accepted because: {safe(d.accepted)}")
    elif d.help:
        out.append(f"  {paint('try', '32;1')}: {safe(d.help)}")
    for item in d.related:
        place = f" ({_place(file, item.source_range)})" if item.source_range else ""
        out.append(f"  see: {safe(item.message)}{place}")
        if item.source_range and item.source_range.line <= len(lines):
            out += excerpt(lines, item.source_range, paint, "36")
    return "\n".join(out) + "\n"


def excerpt(
    lines: list[str], source_range: SourceRange, paint: Paint = _plain, colour: str = ""
) -> list[str]:
    """Return a source line and a line of marks under the source range.

    A range of several lines is marked to the end of its first line. A long line is cut around the
    range, and control characters become visible escapes. Empty if the file has no such line.
    """
    if not 1 <= source_range.line <= len(lines):
        return []
    line = lines[source_range.line - 1]
    begin = min(source_range.column - 1, len(line))
    end = (
        source_range.end_column - 1
        if source_range.end_line == source_range.line
        else len(line.rstrip())
    )
    end = max(min(end, len(line)), begin + 1)
    left = 0
    if len(line) > SHOWN_COLUMNS and begin > SHOWN_COLUMNS * 2 // 3:
        left = begin - SHOWN_COLUMNS // 2
    cut = line[left : left + SHOWN_COLUMNS].replace("\t", " ")
    head = "…" if left else ""
    tail = "…" if left + SHOWN_COLUMNS < len(line) else ""
    before = safe(cut[: begin - left])
    marked = safe(cut[begin - left : end - left])
    number = str(source_range.line)
    # Both together: a joined emoji takes fewer columns than its parts.
    marks = "~" * max(width(before + marked) - width(before), 1)
    return [
        f"  {number} | {head}{safe(cut)}{tail}".rstrip(),
        f"  {' ' * len(number)} | {' ' * (len(head) + width(before))}{paint(marks, colour)}",
    ]
