"""Short ways to read a text and to write down what was found."""

from __future__ import annotations

from photoperiod.source.document import read_text


def read(text):
    return read_text("test.yaml", text if isinstance(text, bytes) else text.encode("utf-8"))


def place(source_range):
    return (source_range.line, source_range.column, source_range.end_line, source_range.end_column)


def found(source):
    return [(d.code, d.source_range.line, d.source_range.column) for d in source.diagnostics]


def cut(source, source_range):
    """Return the text of a source range that lies in one line."""
    assert source_range.line == source_range.end_line
    return source.lines[source_range.line - 1][
        source_range.column - 1 : source_range.end_column - 1
    ]


def only(text):
    (diagnostic,) = read(text).diagnostics
    return diagnostic
