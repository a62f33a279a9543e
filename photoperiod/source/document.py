"""Read YAML text as plain data, with the place of every value and key.

The meaning is that of the YAML 1.2 core schema: ``7:30`` and ``on`` are text, ``010`` is ten. Only
the events of the parser are used, so nothing is ever constructed from a tag, nesting costs no
recursion, and every fault becomes a diagnostic. The nodes come from `photoperiod.source.yaml_events`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from photoperiod.diagnostics.model import Diagnostic, Path, SourceRange
from photoperiod.source.yaml_events import (
    MAX_DEPTH,
    MAX_NODES,
    Builder,
    Node,
    Stop,
    line_and_column,
    split_lines,
)

MAX_BYTES = 1_048_576


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
    """

    name: str
    text: str = ""
    digest: str = ""
    data: Any = None
    values: dict[Path, SourceRange] = field(default_factory=dict)
    keys: dict[Path, SourceRange] = field(default_factory=dict)
    bad: set[Path] = field(default_factory=set)
    diagnostics: list[Diagnostic] = field(default_factory=list)

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
        """Return the diagnostic with the spans of itself and of its related places."""
        related = tuple(
            item
            if item.source_range
            else replace(item, source_range=self.locate(item.path, on_key=True))
            for item in diagnostic.related
        )
        source_range = diagnostic.source_range or self.locate(
            diagnostic.path, on_key=diagnostic.on_key
        )
        return replace(diagnostic, source_range=source_range, related=related)


def read_text(name: str, raw: bytes) -> Document:
    """Read the bytes of a schedule; whatever is wrong with them stands in the diagnostics.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.

    Returns
    -------
    Document
        Never raises for any bytes.
    """
    source = Document(name=name, digest=hashlib.sha256(raw).hexdigest())
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    if len(raw) > MAX_BYTES:
        _complain(
            source,
            "PHO104",
            f"the file has more than {MAX_BYTES:,} bytes",
            SourceRange(1, 1, 1, 1),
        )
        return source
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        source.text = raw.decode("utf-8", errors="replace")
        line, column = line_and_column(before, len(before))
        _complain(
            source,
            "PHO109",
            f"byte 0x{raw[error.start]:02x} is not UTF-8",
            SourceRange(line, column, line, column + 1),
            help="save the file as UTF-8",
        )
        return source
    source.text = text
    builder = Builder(text)
    source.diagnostics = builder.diagnostics
    try:
        root = builder.build()
    except Stop:
        return source
    if root is None and source.diagnostics:
        return source
    if root is None:
        _complain(
            source,
            "PHO100",
            "the file holds no schedule",
            SourceRange(1, 1, 1, 1),
            help="`photoperiod new FILE` writes a first one",
        )
        return source
    characters = 0
    for count, (path, node) in enumerate(_walk(root), start=1):
        if count > MAX_NODES or len(path) > MAX_DEPTH:
            code, what = ("PHO104", f"more than {MAX_NODES:,} values")
            if count <= MAX_NODES:
                code, what = ("PHO110", f"values are nested more than {MAX_DEPTH} levels deep")
            _complain(
                source, code, what + ", aliases counted where they are used", node.source_range
            )
            return source
        source.values[path] = node.source_range
        if node.is_bad:
            source.bad.add(path)
        if isinstance(node.value, str):
            characters += len(node.value)
            if characters > MAX_BYTES:
                _complain(
                    source,
                    "PHO104",
                    f"more than {MAX_BYTES:,} characters, aliases counted where they are used",
                    node.source_range,
                )
                return source
        if isinstance(node.value, dict):
            for key, (key_range, _) in node.value.items():
                source.keys[(*path, key)] = key_range
    source.data = _plain(root)
    return source


def _complain(
    source: Document, code: str, message: str, source_range: SourceRange, help: str = ""
) -> None:
    source.diagnostics.append(
        Diagnostic(code=code, message=message, source_range=source_range, help=help)
    )


def _walk(root: Node) -> Iterator[tuple[Path, Node]]:
    """Yield every node with its path, parents first; the caller bounds depth and number."""
    stack: list[tuple[Path, Node]] = [((), root)]
    while stack:
        path, node = stack.pop()
        yield path, node
        if isinstance(node.value, dict):
            stack.extend(((*path, k), n) for k, (_, n) in reversed(node.value.items()))
        elif isinstance(node.value, list):
            stack.extend(((*path, i), n) for i, n in reversed(list(enumerate(node.value))))


def _plain(node: Node) -> Any:
    """Return the plain data of a node whose depth is already known to be bounded."""
    if isinstance(node.value, dict):
        return {key: _plain(child) for key, (_, child) in node.value.items()}
    if isinstance(node.value, list):
        return [_plain(child) for child in node.value]
    return node.value
