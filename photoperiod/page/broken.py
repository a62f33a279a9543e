"""The page of a schedule with errors: each error over its line, so that a page is never blank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from photoperiod.diagnostics.model import Diagnostic, OtherFile
from photoperiod.page.findings import ShownFinding, SourceLine, marked_line, shown_findings
from photoperiod.page.render import environment, rendered
from photoperiod.text import counted, safe, safe_message

#: So many lines of a source are shown; of a longer one those around its findings.
MOST_LINES = 2_000

#: Lines around a finding in a source that is longer.
AROUND = 3

#: A line of the source is cut after so many characters.
MOST_CHARACTERS = 400


@dataclass(frozen=True, slots=True)
class ListedLine:
    """A line of the source, what is marked in it, and the findings on it."""

    line: SourceLine
    findings: tuple[ShownFinding, ...]


def render_broken(
    name: str,
    findings: Sequence[Diagnostic],
    lines: Sequence[str] = (),
    words: str = "",
    *,
    others: Mapping[str, OtherFile] = MappingProxyType({}),
    is_live: bool = True,
) -> bytes:
    """Return the page of a schedule that could not be compiled.

    Parameters
    ----------
    name : str
        What the file is called.
    findings : sequence of Diagnostic
        In the order of the file.
    lines : sequence of str
        The lines of the source, as far as it could be read.
    words : str
        What ended it where that is no finding, such as a file that is not there.
    others : mapping of str to OtherFile
        Other files in which findings can stand, by the name that the schedule has for them.
    is_live : bool
        True for a page that loads itself anew.

    Raises
    ------
    OutsideWorldError
        PHO515 if jinja2 is not installed.
    """
    placed = [
        d for d in findings if d.source_range and not d.file and d.source_range.line <= len(lines)
    ]
    elsewhere = [d for d in findings if d not in placed]
    errors = sum(d.severity == "error" for d in findings)
    return rendered(
        environment(),
        "broken.html",
        is_live=is_live,
        name=safe(name),
        count=counted(errors, "error") if errors else "",
        words=[line.strip() for line in safe_message(words).split("\n") if line.strip()],
        elsewhere=shown_findings(elsewhere, (), others),
        listing=_listing(placed, lines),
    )


def _listing(placed: Sequence[Diagnostic], lines: Sequence[str]) -> list[ListedLine]:
    """Return the lines that are shown, in their order."""
    by_line: dict[int, list[Diagnostic]] = {}
    for finding in placed:
        if finding.source_range is not None:
            by_line.setdefault(finding.source_range.line, []).append(finding)
    shown = range(1, len(lines) + 1)
    if len(lines) > MOST_LINES:
        near = {n + off for n in by_line for off in range(-AROUND, AROUND + 1)}
        shown = sorted(near & set(shown))  # type: ignore[assignment]
    return [_listed(number, lines, by_line) for number in shown]


def _listed(
    number: int, lines: Sequence[str], by_line: Mapping[int, Sequence[Diagnostic]]
) -> ListedLine:
    here = by_line.get(number, ())
    place = here[0].source_range if here else None
    marked = marked_line(lines, place) if place else None
    if marked is None:
        text = lines[number - 1]
        cut = text[:MOST_CHARACTERS] + ("…" if len(text) > MOST_CHARACTERS else "")
        marked = SourceLine(number, safe(cut.replace("\t", " ")), "", "")
    return ListedLine(marked, shown_findings(here, ()))
