"""What commands print, made safe for a terminal.

Names of files, keys, titles and columns come from strangers. Messages show them in one line
(`photoperiod.text.safe`). These streams are the second net, under everything that is printed: whatever
a text holds, a terminal and a pipe get no control and no direction characters but line ends, tabs and
our own colours.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

import click

from photoperiod.cli.sample_lines import sample_line
from photoperiod.text import safe, safe_lines, safe_message

#: What commands print on purpose: colours of reports, line ends of CSV, a line of progress anew.
_OURS = re.compile(r"(\x1b\[(?:3[1-6](?:;1)?|0)m|\r\n|(?<![\s\S])\r)")

#: What click alone finds wrong: an argument or option that is missing, unknown, or without its value.
_OF_CLICK = (
    click.MissingParameter,
    click.NoSuchOption,
    click.BadOptionUsage,
    click.BadArgumentUsage,
)

#: Exit code of a mistake of ours.
EXIT_BUG = 3


class SafeStream:
    """A text stream that shows control and direction characters as visible escapes.

    Parameters
    ----------
    stream : TextIO
        Where the text goes. Everything but writing text is its own, such as `isatty` and `buffer`.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write a text, made safe, and return how many characters of it were taken."""
        parts = _OURS.split(text)  # texts of ours stand at the odd places
        self._stream.write("".join(p if n % 2 else safe_lines(p) for n, p in enumerate(parts)))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write texts one after the other."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        if name == "buffer" and sys.platform == "win32" and self._stream.isatty():
            # click writes to a console of Windows by its bytes, around this stream, where it finds them.
            raise AttributeError(name)
        return getattr(self._stream, name)


@contextlib.contextmanager
def safe_streams() -> Iterator[None]:
    """Make standard output and standard error safe while the body of the `with` runs."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (stream if stream is None else SafeStream(stream) for stream in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def write_bytes(content: bytes) -> None:
    """Write a file to standard output as it is, or as text where that takes no bytes."""
    buffer = getattr(sys.stdout, "buffer", None)
    if buffer is not None:
        buffer.write(content)
    else:
        sys.stdout.write(content.decode(errors="backslashreplace"))


def show_wrong_use(error: click.ClickException) -> None:
    """Print what is wrong with the arguments, and where click found it a line of the command as it is typed.

    A name in the message can't begin a line of its own. What we refuse ourselves tells the way out.
    """
    error.message = safe_message(error.message)  # type: ignore[misc,unused-ignore]  # in new click
    error.show()
    context = getattr(error, "ctx", None)
    is_of_click = isinstance(error, _OF_CLICK) or error.message.startswith("Got unexpected extra")
    line = sample_line(context.command_path) if context is not None and is_of_click else ""
    if line:
        click.echo(f"For example: {line}", err=True)


def show_bug(error: Exception) -> int:
    """Print that a mistake of ours ended the work, and return the exit code; or raise it, if asked to."""
    if os.environ.get("PHOTOPERIOD_TRACEBACK"):
        raise error
    click.echo(
        f"This is a bug in photoperiod, not in your file: {type(error).__name__}: {safe(str(error))}\n"
        "Please report it with the file; PHOTOPERIOD_TRACEBACK=1 shows where it happened.",
        err=True,
    )
    return EXIT_BUG
