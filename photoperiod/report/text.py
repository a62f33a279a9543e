"""A report as text for a person: place, severity, code, message, source line, and what to try."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Report, SourceRange
from photoperiod.diagnostics.unguarded import unguarded_line
from photoperiod.text import safe, width, wrapped

#: Longest stretch of a source line that is shown.
SHOWN_COLUMNS = 100

#: So much of it is shown even on the narrowest terminal.
LEAST_SHOWN_COLUMNS = 30

#: How many diagnostics are shown unless all are asked for.
SHOWN_DIAGNOSTICS = 50

_COLOURS = {
    Severity.ERROR: "31;1",
    Severity.WARNING: "33;1",
    Severity.ACCEPTED: "35;1",
    Severity.NOTE: "36;1",
}

Paint = Callable[[str, str], str]


@dataclass(frozen=True, slots=True)
class _Page:
    """How blocks are set: the report and the lines of the schedule, colours, and columns of a line."""

    report: Report
    lines: Sequence[str]
    paint: Paint
    room: int | None

    def prose(self, text: str, word: str = "", colour: str = "", indent: str = "    ") -> str:
        """Return a line of prose cut to the room, in which one word is painted."""
        shown = wrapped(text, self.room, indent)
        return shown.replace(word, self.paint(word, colour), 1) if word else shown

    def excerpt(self, file: str, source_range: SourceRange, colour: str) -> list[str]:
        """Return a source line with its marks, no longer than the room."""
        lines = self.report.lines_of(file, self.lines)
        frame = len(f"  {source_range.line} | ……")
        most = SHOWN_COLUMNS
        if self.room is not None:
            most = max(min(most, self.room - frame), LEAST_SHOWN_COLUMNS)
        return excerpt(lines, source_range, self.paint, colour, most)


def render_text(
    report: Report,
    lines: Sequence[str],
    *,
    colour: bool = False,
    show_all: bool = False,
    detail: bool = False,
    room: int | None = None,
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
    detail : bool
        True to name each check that did not run.
    room : int or None
        How many columns a line may take; None if that is not known.
    """
    page = _Page(report, lines, _painted if colour else _plain, room)
    ordered = report.sorted()
    full = [d for d in ordered if d.severity is not Severity.NOTE]
    notes = [d for d in ordered if d.severity is Severity.NOTE]
    most = len(ordered) if show_all else SHOWN_DIAGNOSTICS
    blocks = [_block(d, page) for d in full[:most]]
    if notes:
        blocks.append("\n".join(_note(d, page) for d in notes[:most]) + "\n")
    hidden = max(len(full) - most, 0) + max(len(notes) - most, 0)
    if hidden:
        blocks.append(f"… and {hidden} more; `--all` shows them\n")
    if report.not_run:
        blocks.append(page.prose(not_checked_line(report.not_run, detail=detail)) + "\n")
    if report.not_guarded:
        blocks.append(page.prose(safe(unguarded_line(report.not_guarded))) + "\n")
    return "\n".join(blocks)


def not_checked_line(not_run: Mapping[str, str], *, detail: bool = False) -> str:
    """Return which checks did not run and why, in one line.

    ``not_run`` gives the reason by the name of the check. Without ``detail`` several checks with the same
    reason are counted.
    """
    names: dict[str, list[str]] = {}
    for name, why in sorted(not_run.items()):
        names.setdefault(why, []).append(name)
    parts = []
    is_short = False
    for why, checks in names.items():
        is_counted = len(checks) > 1 and not detail
        is_short |= is_counted
        parts.append(f"{f'{len(checks)} checks' if is_counted else ', '.join(checks)} ({why})")
    return f"not checked: {'; '.join(parts)}{'; `--detail` names them' if is_short else ''}"


def counts_line(report: Report) -> str:
    """Return one line with the number of findings of each severity."""
    nothing = "nothing to complain of"
    if report.not_guarded:
        nothing += " in what is guarded"
    line = f"{safe(report.file)}: {counts_words(report) or nothing}"
    gravest = gravest_of(report)
    if gravest is not None:
        line += f"; `photoperiod explain {gravest.code}` tells more"
    return line


def gravest_of(report: Report) -> Diagnostic | None:
    """Return the first of the gravest findings; None if there are but notes."""
    grave = [d for d in report.sorted() if d.severity is not Severity.NOTE]
    return min(grave, key=lambda d: list(Severity).index(d.severity), default=None)


def counts_words(report: Report) -> str:
    """Return the number of findings of each severity in words; empty if there are none."""
    words = []
    for severity in (Severity.ERROR, Severity.WARNING, Severity.ACCEPTED, Severity.NOTE):
        count = report.count(severity)
        if count and severity is Severity.ACCEPTED:
            words.append(f"{count} accepted")
        elif count:
            words.append(f"{count} {severity}{'' if count == 1 else 's'}")
    return ", ".join(words)


def _plain(text: str, _colour: str) -> str:
    return text


def _painted(text: str, colour: str) -> str:
    return f"\x1b[{colour}m{text}\x1b[0m"


def _place(file: str, source_range: SourceRange | None) -> str:
    return safe(file) + (f":{source_range.line}:{source_range.column}" if source_range else "")


def _label(d: Diagnostic) -> str:
    return f"{d.severity} {d.code}"


def _heading(page: _Page, d: Diagnostic) -> str:
    return f"{_place(page.report.shown(d.file), d.source_range)}  {_label(d)} {d.name}"


def _note(d: Diagnostic, page: _Page) -> str:
    line = f"{_heading(page, d)}: {safe(d.message)}"
    return page.prose(line, _label(d), _COLOURS[d.severity])


def _block(d: Diagnostic, page: _Page) -> str:
    out = [
        page.prose(_heading(page, d), _label(d), _COLOURS[d.severity]),
        page.prose(f"  {safe(d.message)}", indent="  "),
    ]
    if d.source_range:
        out += page.excerpt(d.file, d.source_range, _COLOURS[d.severity])
    if d.accepted is not None:
        out.append(page.prose(f"  accepted because: {safe(d.accepted)}"))
    elif d.help:
        out.append(page.prose(f"  try: {safe(d.help)}", "try", "32;1"))
    for item in d.related:
        name = page.report.shown(item.file)
        place = f" ({_place(name, item.source_range)})" if item.source_range else ""
        out.append(page.prose(f"  see: {safe(item.message)}{place}"))
        if item.source_range:
            out += page.excerpt(item.file, item.source_range, "36")
    return "\n".join(out) + "\n"


def excerpt(
    lines: Sequence[str],
    source_range: SourceRange,
    paint: Paint = _plain,
    colour: str = "",
    most: int = SHOWN_COLUMNS,
) -> list[str]:
    """Return a source line and a line of marks under the source range.

    A range of several lines is marked to the end of its first line. A line of more than ``most``
    characters is cut around the range, and control characters become visible escapes. Empty if
    the file has no such line.
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
    if len(line) > most and begin > most * 2 // 3:
        left = begin - most // 2
    cut = line[left : left + most].replace("\t", " ")
    head = "…" if left else ""
    tail = "…" if left + most < len(line) else ""
    before = safe(cut[: begin - left])
    marked = safe(cut[begin - left : end - left])
    number = str(source_range.line)
    # Both together: a joined emoji takes fewer columns than its parts.
    marks = "~" * max(width(before + marked) - width(before), 1)
    return [
        f"  {number} | {head}{safe(cut)}{tail}".rstrip(),
        f"  {' ' * len(number)} | {' ' * (len(head) + width(before))}{paint(marks, colour)}",
    ]
