"""Files of readings that a schedule names: their bytes come from outside, nothing here opens a file."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.text import short

if TYPE_CHECKING:
    from photoperiod.readings.faults import Faults
    from photoperiod.readings.model import Readings

Found = TypeVar("Found")

#: A file of readings: its bytes, or why it can't be read.
FileBytes = bytes | str


def files_named(data: object) -> dict[str, Path]:
    """Return the files of readings that the data of a schedule name, each with its first place."""
    found: dict[str, Path] = {}
    for name, path in (
        *_named(data, "ballasts", "response"),
        *_named(data, "tubes", "depreciation"),
        *_named(data, "channels", "full_ppfd"),
        *_named(data, "channels", "spectrum"),
        *_weights(data),
    ):
        found.setdefault(name, path)
    return found


def files_of_channels(data: object) -> dict[str, Path]:
    """Return the files that channels name for their light, each with its first place."""
    found: dict[str, Path] = {}
    for name, path in _named(data, "channels", "full_ppfd"):
        found.setdefault(name, path)
    return found


def _weights(data: object) -> Iterator[tuple[str, Path]]:
    about: Any = data.get("action_spectrum") if isinstance(data, dict) else None
    name = about.get("weights") if isinstance(about, dict) else None
    if isinstance(name, str):
        yield name, ("action_spectrum", "weights")


def _named(data: object, section: str, key: str) -> Iterator[tuple[str, Path]]:
    entries = data.get(section) if isinstance(data, dict) else None
    for id, entry in entries.items() if isinstance(entries, dict) else ():
        about: Any = entry.get(key) if isinstance(entry, dict) else None
        name = about.get("readings") if isinstance(about, dict) else None
        if isinstance(name, str):
            yield name, (section, id, key, "readings")


class ReadingsFiles:
    """The bytes of the files that a schedule names, and what is found on them.

    Parameters
    ----------
    files : mapping of str to bytes or str
        By the name in the schedule, the bytes of each file, or why it can't be read.
    findings : Findings
        The findings on the schedule; those on a file are told where it is named.
    """

    def __init__(self, files: Mapping[str, FileBytes], findings: Findings) -> None:
        self._files, self._findings = files, findings
        #: SHA-256 of each file that could be used, hexadecimal.
        self.digests: dict[str, str] = {}

    def bytes_of(self, name: str, path: Path) -> bytes:
        """Return the bytes of a file; a finding, and AlreadyReported, if it can't be read."""
        raw = self._files.get(name, "it was not given")
        if isinstance(raw, bytes):
            return raw
        self._findings.add(
            "PHO901",
            path,
            f"can't read '{short(name)}': {raw}",
            "its path is that from the folder of the file that names it",
        )
        raise AlreadyReported

    def keep_digest(self, name: str, raw: bytes) -> str:
        """Return the SHA-256 of a file that could be used, hexadecimal; outputs tell it."""
        import hashlib  # only a schedule with files needs it

        self.digests[name] = hashlib.sha256(raw).hexdigest()
        return self.digests[name]

    def tell(self, name: str, faults: Faults, path: Path) -> None:
        """Add the findings on a file, each with its row and column, where the schedule names it."""
        for each in faults:
            at = each.source_range
            where = f"{short(name)}:{at.line}:{at.column}" if at else short(name)
            self._findings.add(each.code, path, f"{where}: {each.message}", each.help)


def found_in(
    given: Cursor,
    use: str,
    find: Callable[[Readings, Faults], Found | None],
    files: ReadingsFiles,
    findings: Findings,
) -> Found:
    """Return what the file of readings that `given` names tells, and keep its digest.

    Parameters
    ----------
    given : Cursor
        A mapping of the schedule with `readings`, and maybe `readings_sha256`.
    use : str
        What the file is used for, as `read_readings` has it.
    find : callable
        Finds it in the readings; None if they do not tell it.
    files : ReadingsFiles
        The files that the schedule names.
    findings : Findings
        Findings are added here.

    Raises
    ------
    AlreadyReported
        If the file does not tell it.
    """
    from photoperiod.readings.faults import TooManyFaults
    from photoperiod.readings.reader import read_readings

    name, path = given.text("readings"), given.at("readings")
    readings, faults = read_readings(name, files.bytes_of(name, path), use)
    found = None
    if readings is not None:
        with contextlib.suppress(TooManyFaults):
            found = find(readings, faults)
    files.tell(name, faults, path)
    if readings is None or found is None:
        raise AlreadyReported
    files.digests[name] = readings.table.sha256
    check_digest(given, name, readings.table.sha256, findings)
    return found


def check_digest(
    cursor: Cursor, name: str, sha256: str, findings: Findings, key: str = "readings_sha256"
) -> None:
    """Report a file that is not the one whose digest the schedule holds."""
    wanted = cursor.text(key)
    if wanted and wanted != sha256:
        findings.add(
            "PHO910",
            cursor.at(key),
            f"'{short(name)}' has changed since this digest was written",
            f"look at what changed; if it is right, write `{key}: {sha256}`",
        )
