"""Lines that begin in the wrong column, and spaces that only look like spaces.

The parser notices a wrong indent where it can't go on, which is often a line later or at another column.
Here the lines around that place are compared, and the one that stands apart is named. This is a guess
for a message; what a file means is never decided here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from photoperiod.diagnostics.model import SourceRange
from photoperiod.text import counted

#: Spaces that YAML does not take for a space: the hard space, those of fixed width, and others.
_HARD = "\u00a0\u1680\u2000-\u200b\u202f\u205f\u2060\u3000\ufeff"

#: A hard space in the indent, after a dash, or after the colon of a key.
_HARD_SPACE = re.compile(rf"^[ ]*(?:- *)*(?:[\w-]+:[ ]*)?([{_HARD}])")

#: Where the parts of a line begin that may have their own indent: dashes, then a key or value.
_LEADS = re.compile(r"(- *)")
_KEY_WITH_VALUE = re.compile(r"(?:- *)*[\w-]+:[ ]+[^ #]")
_QUOTED = re.compile(r"""'[^']*'|"(?:[^"\\]|\\.)*"|(?:^|[ ])#.*""")

#: So many lines with content above a fault are searched for a hard space.
_LINES_ABOVE = 2


class WrongIndent(NamedTuple):
    """A line that stands apart, and in what."""

    message: str
    source_range: SourceRange


@dataclass(frozen=True, slots=True)
class _Line:
    """A line with content: its number, and the columns from 0 at which its parts begin."""

    number: int
    levels: tuple[int, ...]
    text: str

    @property
    def indent(self) -> int:
        return self.levels[0]


def hard_space(lines: list[str], number: int) -> SourceRange | None:
    """Return the nearest hard space that breaks the structure at a line or just above it."""
    left = _LINES_ABOVE
    for each in range(number, 0, -1):
        line = lines[each - 1] if each <= len(lines) else ""
        found = _HARD_SPACE.match(line)
        if found:
            column = found.start(1) + 1
            return SourceRange(each, column, each, column + 1)
        if line.strip() and not line.lstrip().startswith("#"):
            left -= each < number
        if left == 0:
            break
    return None


def too_deep(lines: list[str], number: int) -> WrongIndent | None:
    """Return which line stands apart where a key is deeper than the `key: value` above it."""
    before, here, after = _around(lines, number)
    if here is None or not before:
        return None
    above = before[-1]
    level = above.levels[-1]
    if here.indent <= level or not _KEY_WITH_VALUE.match(above.text.lstrip(" ")):
        return None
    if level not in _open_levels(before[:-1]) and after and after.indent == here.indent:
        return _apart(above, level, f"the lines after it by {here.indent}")
    return _apart(here, here.indent, f"the line above it by {level}")


def beside_nothing(lines: list[str], number: int) -> WrongIndent | None:
    """Return which line stands apart where a key stands beside none of the keys above it."""
    before, here, after = _around(lines, number)
    if here is None:
        return None
    levels = _open_levels(before)
    deeper = [level for level in levels if level > here.indent]
    shallower = [level for level in levels if level < here.indent]
    if here.indent in levels or not deeper or not shallower:
        return None
    inner = [line for line in before if deeper[0] in line.levels]
    block = [line for line in inner if line.number > _parent(before, deeper[0])]
    if len(block) == 1 and after and after.indent == here.indent:
        return _apart(block[0], deeper[0], f"the lines after it by {here.indent}")
    return _apart(here, here.indent, f"the lines above it by {shallower[-1]} or {deeper[0]}")


def _apart(line: _Line, indent: int, others: str) -> WrongIndent:
    message = f"this line is indented by {counted(indent, 'space')}, {others}"
    return WrongIndent(message, SourceRange(line.number, indent + 1, line.number, indent + 2))


def _around(lines: list[str], number: int) -> tuple[list[_Line], _Line | None, _Line | None]:
    """Return the lines with content before a line, the line itself, and the one after it."""
    before: list[_Line] = []
    here: _Line | None = None
    depth = 0  # of brackets: within them, indents mean nothing
    for each, line in enumerate(lines, start=1):
        bare = _QUOTED.sub("", line)
        if bare.strip() and depth == 0:
            found = _Line(each, _levels(line), line)
            if each > number:
                return before, here, found
            if each == number:
                here = found
            else:
                before.append(found)
        depth = max(0, depth + len(re.findall(r"[{\[]", bare)) - len(re.findall(r"[}\]]", bare)))
    return before, here, None


def _levels(line: str) -> tuple[int, ...]:
    indent = len(line) - len(line.lstrip(" "))
    levels = [indent]
    while lead := _LEADS.match(line, levels[-1]):
        levels.append(lead.end())
    return tuple(levels)


def _open_levels(before: list[_Line]) -> list[int]:
    """Return the indents of the mappings and lists that are open after some lines, outermost first."""
    levels: list[int] = []
    for line in before:
        levels = [level for level in levels if level < line.indent] + list(line.levels)
    return levels


def _parent(before: list[_Line], level: int) -> int:
    """Return the number of the last line that is less indented than a level, 0 if there is none."""
    return max((line.number for line in before if line.levels[-1] < level), default=0)
