"""Exceptions that end a run, each with its exit code. Faults in a schedule are diagnostics instead."""

from __future__ import annotations

from photoperiod.text import safe_message


def os_reason(error: OSError | ValueError) -> str:
    """Return why the operating system refused, in lower case and without number or path.

    It calls a folder a directory; all our texts call it a folder.

    Parameters
    ----------
    error : OSError or ValueError
        ``open`` raises ValueError for a path with a null byte.
    """
    strerror = getattr(error, "strerror", None)
    return strerror.lower().replace("directory", "folder") if strerror else str(error).lower()


class PhotoperiodError(Exception):
    """Base of all errors that end a run with a message and an exit code (3: a bug of ours)."""

    exit_code = 3

    def told(self) -> str:
        """Return the text to print, safe for a terminal."""
        return f"error: {safe_message(str(self))}"


class WrongUse(PhotoperiodError):
    """The arguments contradict each other or name something unknown (exit code 2)."""

    exit_code = 2


class ExportRefused(PhotoperiodError):
    """The table is good, but the requested file format cannot hold it (exit code 1)."""

    exit_code = 1


class OutsideWorldError(PhotoperiodError):
    """A file, disk, broker or device failed (exit code 4).

    Parameters
    ----------
    code : str
        Finding code, such as ``PHO501``; ``photoperiod explain`` describes it.
    message : str
        What happened.
    help : str
        What the reader can do about it; empty if nothing is known.
    """

    exit_code = 4

    def __init__(self, code: str, message: str, help: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.help = help

    def told(self) -> str:
        """Return the text to print: code, message, and what to try; safe for a terminal."""
        way_out = f"\n  try: {safe_message(self.help)}" if self.help else ""
        return f"error {self.code}: {safe_message(str(self))}{way_out}"
