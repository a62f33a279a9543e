"""Exceptions that end a run, each with its exit code. Faults in a schedule are diagnostics instead."""

from __future__ import annotations


class PhotoperiodError(Exception):
    """Base of all errors that end a run with a message and an exit code."""

    exit_code = 3

    def told(self) -> str:
        """Return what to print of it."""
        return f"error: {self}"


class WrongUse(PhotoperiodError):
    """The command was asked for something that cannot be meant."""

    exit_code = 2


class ExportRefused(PhotoperiodError):
    """A table is good, but the kind of file that was asked for can't hold it."""

    exit_code = 1


class OutsideWorldError(PhotoperiodError):
    """A file, disk or device said no.

    Parameters
    ----------
    code : str
        Stable code, such as ``PHO501``, for ``photoperiod explain``.
    message : str
        What happened.
    help : str
        What can be done about it.
    """

    exit_code = 4

    def __init__(self, code: str, message: str, help: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.help = help

    def told(self) -> str:
        """Return what to print of it: code, message, way out."""
        return f"error {self.code}: {self}" + (f"\n  try: {self.help}" if self.help else "")
