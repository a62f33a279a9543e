"""The two kinds of finding that a check yields: one marks a key of the schedule, one a value."""

from photoperiod.diagnostics.model import Diagnostic, Path, Related


def on_key(code: str, path: Path, message: str, help: str = "") -> Diagnostic:
    """Return a finding that marks the key at a path, such as the id of a channel."""
    return Diagnostic(code=code, path=path, on_key=True, message=message, help=help)


def on_value(
    code: str, path: Path, message: str, help: str = "", related: tuple[Related, ...] = ()
) -> Diagnostic:
    """Return a finding that marks the value at a path, such as a limit of a zone."""
    return Diagnostic(code=code, path=path, message=message, help=help, related=related)
