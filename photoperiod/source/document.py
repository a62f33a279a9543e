"""Read YAML text as plain data, with the place of every value and key.

The meaning is that of the YAML 1.2 core schema: ``7:30`` and ``on`` are text, ``010`` is ten. Only
the events of the parser are used, so nothing is ever constructed from a tag, nesting costs no
recursion, and every fault becomes a diagnostic. The nodes come from `photoperiod.source.yaml_events`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from photoperiod.diagnostics.model import Diagnostic, Path, Related, SourceRange
from photoperiod.source.yaml_events import (
    MAX_DEPTH,
    MAX_NODES,
    Node,
    Unreadable,
    build_nodes,
    line_and_column,
    split_lines,
)
from photoperiod.text import no_utf8_text

#: Largest file that is read.
MAX_BYTES = 1_048_576

#: What the files of this language hold.
SCHEDULE = "schedule"

T = TypeVar("T", Diagnostic, Related)

#: The place of faults of a whole file.
START = SourceRange(1, 1, 1, 1)


@dataclass(slots=True)
class Document:
    """A file's text, its plain data, and where each value and key of it stands.

    Parameters
    ----------
    name : str
        What the file is called in messages.
    text : str
        The whole text, without a byte order mark; empty if it could not be decoded.
    digest : str
        SHA-256 of the bytes, hexadecimal.
    data : Any
        Mappings, lists, text, numbers, booleans and None; None too if nothing could be read.
    diagnostics : list of Diagnostic
        Faults of reading. With an error among them `data` may be incomplete.
    bad : set of Path
        Values that a diagnostic already stands for; nobody needs to complain of them again.
    parts : Document or None
        The file of parts that it names, if that could be read.
    taken : dict of Path to Path
        Values that were taken from the parts, each with its path there.
    """

    name: str
    text: str = ""
    digest: str = ""
    data: Any = None
    values: dict[Path, SourceRange] = field(default_factory=dict)
    keys: dict[Path, SourceRange] = field(default_factory=dict)
    bad: set[Path] = field(default_factory=set)
    diagnostics: list[Diagnostic] = field(default_factory=list)
    parts: Document | None = None
    taken: dict[Path, Path] = field(default_factory=dict)

    @property
    def lines(self) -> list[str]:
        """The lines of the text without their ends."""
        return split_lines(self.text)

    def locate(self, path: Path, *, on_key: bool = False) -> SourceRange | None:
        """Return the place of a value or key; of what is not there, the nearest thing around it."""
        first, second = (self.keys, self.values) if on_key else (self.values, self.keys)
        source_range = first.get(path) or second.get(path)
        while source_range is None and path:
            path = path[:-1]
            source_range = self.keys.get(path) or self.values.get(path)
        return source_range

    def place(self, diagnostic: Diagnostic) -> Diagnostic:
        """Return the diagnostic with the places of itself and of what is related to it."""
        related = tuple(self._placed(item, on_key=True) for item in diagnostic.related)
        return replace(self._placed(diagnostic, on_key=diagnostic.on_key), related=related)

    def _placed(self, item: T, *, on_key: bool) -> T:
        """Return a diagnostic, or what is related to one, with its source range and its file."""
        if item.source_range is not None:
            return item
        in_parts = self._in_parts(item.path)
        if in_parts is not None and self.parts is not None:
            there = self.parts.locate(in_parts, on_key=on_key)
            return replace(item, source_range=there, file=self.parts.name)
        return replace(item, source_range=self.locate(item.path, on_key=on_key))

    def _in_parts(self, path: Path) -> Path | None:
        """Return the path of a value in the file of parts; None if it was not taken from there."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.taken:
                return (*self.taken[path[:length]], *path[length:])
        return None


def read_text(name: str, raw: bytes, holds: str = SCHEDULE) -> Document:
    """Read the bytes of a schedule.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.
    holds : str
        What such a file holds.

    Returns
    -------
    Document
        Whatever is wrong stands in its diagnostics; no bytes raise an exception.
    """
    document = Document(name=name, digest=hashlib.sha256(raw).hexdigest())
    try:
        _decode(document, raw.removeprefix(b"\xef\xbb\xbf"))
        root = _build(document, holds)
        if root is not None:
            _keep_places(document, root)
            document.data = _plain(root)
    except Unreadable as fault:
        document.diagnostics += [*fault.before, fault.diagnostic]
    return document


def _decode(document: Document, raw: bytes) -> None:
    """Set the text of the document."""
    if len(raw) > MAX_BYTES:
        raise _unreadable("PHO104", f"the file has more than {MAX_BYTES:,} bytes", START)
    try:
        document.text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        document.text = raw.decode("utf-8", errors="replace")  # for the excerpt in the report
        line, column = line_and_column(before, len(before))
        told, help = no_utf8_text(raw, error.start)
        raise _unreadable(
            "PHO109", told, SourceRange(line, column, line, column + 1), help
        ) from None


def _build(document: Document, holds: str) -> Node | None:
    """Return the root node, None if all that stands in the text is faulty."""
    root, document.diagnostics = build_nodes(document.text)
    if root is None and not document.diagnostics:
        help = (
            "`photoperiod new FILE` writes a first one; name a file that is not there yet"
            if holds == SCHEDULE
            else ""
        )
        raise _unreadable("PHO100", f"the file holds no {holds}", START, help)
    return root


def _keep_places(document: Document, root: Node) -> None:
    """Record where each value and key stands and which are bad.

    An alias counts as often as it is used: a few lines of aliases of aliases could otherwise stand
    for more values than memory holds.
    """
    characters = 0
    for count, (path, node) in enumerate(_walk(root), start=1):
        if count > MAX_NODES:
            raise _too_much("PHO104", f"more than {MAX_NODES:,} values", node)
        if len(path) > MAX_DEPTH:
            raise _too_much("PHO110", f"values are nested more than {MAX_DEPTH} levels deep", node)
        document.values[path] = node.source_range
        if node.is_bad:
            document.bad.add(path)
        if isinstance(node.value, str):
            characters += len(node.value)
            if characters > MAX_BYTES:
                raise _too_much("PHO104", f"more than {MAX_BYTES:,} characters", node)
        if isinstance(node.value, dict):
            for key, (key_range, _) in node.value.items():
                document.keys[(*path, key)] = key_range


def _too_much(code: str, message: str, node: Node) -> Unreadable:
    """Return what to raise for more than a document may hold."""
    message += ", aliases counted where they are used"
    return _unreadable(code, message, node.source_range)


def _unreadable(code: str, message: str, at: SourceRange, help: str = "") -> Unreadable:
    """Return what to raise for a document that can't be read on."""
    return Unreadable(Diagnostic(code=code, message=message, source_range=at, help=help))


def _walk(root: Node) -> Iterator[tuple[Path, Node]]:
    """Yield every node with its path, parents first, in the order of the file.

    Aliases can make this endless: the caller must stop it.
    """
    stack: list[tuple[Path, Node]] = [((), root)]
    while stack:
        path, node = stack.pop()
        yield path, node
        if isinstance(node.value, dict):
            stack.extend(((*path, k), n) for k, (_, n) in reversed(node.value.items()))
        elif isinstance(node.value, list):
            stack.extend(((*path, i), n) for i, n in reversed(list(enumerate(node.value))))


def _plain(node: Node) -> Any:
    """Return the plain data of a node; `_keep_places` has bounded its depth and size."""
    if isinstance(node.value, dict):
        return {key: _plain(child) for key, (_, child) in node.value.items()}
    if isinstance(node.value, list):
        return [_plain(child) for child in node.value]
    return node.value
