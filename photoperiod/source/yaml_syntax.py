"""What the YAML parser complains of, in words that say what to do.

The parser's own messages are short English sentences for programmers. Those that a slip of the pen
leads to are recognised here; any other is passed on as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from photoperiod.diagnostics.model import Diagnostic, Related, SourceRange
from photoperiod.source.yaml_indent import beside_nothing, hard_space, too_deep
from photoperiod.text import short

if TYPE_CHECKING:
    import yaml

_SECOND_COLON = "a second ':' in one line, or a line indented too far"
_SECOND_COLON_HELP = "put text with ': ' into quotes, and indent keys of one mapping alike"
_NO_COLON = "a line without ': ' (a colon and a space)"
_AFTER_QUOTE = "text goes on after its closing quote"
_HIDDEN_BRACKET = "a comment begins here, and hides the bracket that closes"

#: A line such as ``tank:reef``.
_KEY_WITHOUT_SPACE = re.compile(r"""\s*[\w-]+:[^\s'"]""")

#: A comment begins after a blank.
_COMMENT = re.compile(r"\s(#)")
_OPENING, _CLOSING = re.compile(r"[\[{]"), re.compile(r"[\]}]")

_MISSING_COMMA = "is a comma missing before it, or a bracket not closed?"

_WRITE_A_COLON = "write `key: value` with a space after the colon"


class _Advice(NamedTuple):
    """Our words for the messages that a pattern finds; without a message the parser's words stay."""

    pattern: str
    message: str | None
    help: str


#: The parser names what it expected in its own terms: "expected <block end>".
_EXPECTED = _Advice(
    r"did not find expected|^expected",
    None,
    "is a bracket not closed, or is this line indented unlike its neighbours?",
)

#: The first pattern that is found in the parser's message counts.
_ADVICE = (
    _Advice(
        r"^mapping values are not allowed",
        _SECOND_COLON,
        _SECOND_COLON_HELP,
    ),
    _Advice(r"^could not find expected ':'", _NO_COLON, _WRITE_A_COLON),
    _Advice(
        r"alphabetic or numeric character|cannot start any token",
        None,
        "put the text into quotes",
    ),
    _Advice(
        r"'<?scalar>?'",
        _AFTER_QUOTE,
        "double a quote inside quoted text, or use the other kind of quote around it",
    ),
    _Advice(
        r"unknown escape",
        None,
        "inside double quotes write \\\\ for a backslash, or use single quotes",
    ),
    _EXPECTED,
)


def explained(
    error: yaml.MarkedYAMLError, lines: list[str], place: Callable[[yaml.Mark], SourceRange]
) -> Diagnostic:
    """Return the diagnostic for a complaint of the parser.

    Parameters
    ----------
    error : yaml.MarkedYAMLError
        The complaint, with marks of where it arose and of what began before.
    lines : list of str
        The lines of the file without their ends.
    place : callable
        Gives the character at a mark as a source range.
    """
    mark = error.problem_mark or error.context_mark
    at = SourceRange(1, 1, 1, 1) if mark is None else place(mark)
    began = None if error.context_mark is None else place(error.context_mark)
    problem = short((error.problem or "the text is not YAML").strip())
    blank = _wrong_blank(lines, at, problem)
    if blank is not None:
        return blank
    if began is not None and _is_open_quote(error, problem):
        return Diagnostic(
            code="PHO101",
            message="this quoted text never ends",
            source_range=began,
            help="write the same quote again where the text ends",
        )
    related: tuple[Related, ...] = ()
    if began is not None and problem.startswith("could not find expected ':'"):
        at = began  # where the line without a colon begins; the parser stopped on a later line
    elif began is not None and began.line != at.line:
        what = f"{short(error.context)} that began here"
        related = (Related(message=what, source_range=began),)
    message, help = _advice(problem)
    if message == _AFTER_QUOTE and _KEY_WITHOUT_SPACE.match(_line(lines, at)):
        message, help = _NO_COLON, _WRITE_A_COLON
    elif message == _AFTER_QUOTE and began is not None and "flow" in (error.context or ""):
        hidden = _hidden_bracket(lines, began, at)
        if hidden is not None:
            at, related = hidden, ()
            message, help = _HIDDEN_BRACKET, "put the comment after the bracket"
        elif not _line(lines, at)[: at.column - 1].rstrip().endswith(("'", '"')):
            message, help = re.sub(r"'<?scalar>?'", "text", problem), _MISSING_COMMA
    wrong = None
    if message == _SECOND_COLON:
        message, help, at = _blame_the_line_above(lines, at, help)
        if help == _SECOND_COLON_HELP:
            wrong = too_deep(lines, at.line)
    elif "expected block end" in message:
        wrong = beside_nothing(lines, at.line)
    if wrong is not None:
        return Diagnostic(
            code="PHO101",
            message=wrong.message,
            source_range=wrong.source_range,
            help="indent the keys of one mapping alike; text with ': ' needs quotes",
        )
    return Diagnostic(code="PHO101", message=message, source_range=at, help=help, related=related)


def _hidden_bracket(lines: list[str], began: SourceRange, at: SourceRange) -> SourceRange | None:
    """Return where a comment begins that closes more brackets than it opens; None if there is none.

    Looked at are the lines from an open bracket to where the parser stopped, the latter left out.
    """
    for number in range(began.line, at.line):
        line = lines[number - 1]
        for found in _COMMENT.finditer(line):
            begin, before = found.start(1), line[: found.start(1)]
            if before.count('"') % 2 or before.count("'") % 2:
                continue  # inside of a quoted text
            if len(_CLOSING.findall(line, begin)) <= len(_OPENING.findall(line, begin)):
                break
            return SourceRange(number, begin + 1, number, len(line.rstrip()) + 1)
    return None


def _wrong_blank(lines: list[str], at: SourceRange, problem: str) -> Diagnostic | None:
    """Return the diagnostic for a tab or a hard space where a space is wanted; None if there is none."""
    if "'\\t'" in problem or "\t" in problem or _is_tab(lines, at):
        return Diagnostic(
            code="PHO114",
            message="a tab stands where YAML wants spaces",
            source_range=at,
            help="indent with spaces only",
        )
    hard = hard_space(lines, at.line)
    if hard is None:
        return None
    letter = lines[hard.line - 1][hard.column - 1]
    return Diagnostic(
        code="PHO101",
        message=f"a hard space (U+{ord(letter):04X}) stands where YAML wants a space",
        source_range=hard,
        help="it looks like a space and is none: delete it and type a space",
    )


def _line(lines: list[str], at: SourceRange) -> str:
    return lines[at.line - 1] if at.line <= len(lines) else ""


def _is_tab(lines: list[str], at: SourceRange) -> bool:
    return _line(lines, at)[at.column - 1 : at.column] == "\t"


def _is_open_quote(error: yaml.MarkedYAMLError, problem: str) -> bool:
    """Return whether the file, or a document in it, ends inside a quoted text."""
    ends = "unexpected end" in problem or "document separator" in problem
    return ends and "quoted scalar" in (error.context or "")


def _advice(problem: str) -> tuple[str, str]:
    """Return our message and help for the parser's message."""
    advice = next((each for each in _ADVICE if re.search(each.pattern, problem)), None)
    if advice is None:
        return problem, ""
    if advice.message is not None:
        return advice.message, advice.help
    if advice is _EXPECTED:
        problem = problem.replace("did not find expected", "expected")
        problem = problem.replace("<", "").replace(">", "").strip()
    return problem, advice.help


def _blame_the_line_above(
    lines: list[str], at: SourceRange, help: str
) -> tuple[str, str, SourceRange]:
    """Return message, help and place of a second colon: the slip is often one line further up.

    A line such as ``clock standard`` or ``clock:standard`` is text to the parser, which only
    complains when the next line brings a colon.
    """
    above = lines[at.line - 2] if at.line > 1 else ""
    if re.match(r"\s*[\w-]+:\S", above):
        return _SECOND_COLON, f"is a space missing after ':' on line {at.line - 1}?", at
    if re.match(r"\s*\w[^:#]*$", above) and ":" in lines[at.line - 1]:
        column = len(above) - len(above.lstrip()) + 1
        place = SourceRange(at.line - 1, column, at.line - 1, len(above.rstrip()) + 1)
        return _NO_COLON, _WRITE_A_COLON, place
    return _SECOND_COLON, help, at
