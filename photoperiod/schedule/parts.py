"""Parts that tanks share: a file that a schedule names, and what the schedule takes from it.

What the file says and what the schedule says are put together before anything is built, each value with the
place where it stands. Nothing here opens a file.
"""

from __future__ import annotations

import copy
import posixpath
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import FileBytes, files_named
from photoperiod.source.document import Document, read_text
from photoperiod.source.json_schema import validate
from photoperiod.text import close_match, short, suggestion

#: The key that names the file, and the one by which a tube or a zone names its kind there.
PARTS, LIKE = "parts", "like"

#: What the file of parts holds, in messages.
HOLDS = "parts"

#: Where the kinds of tubes and zones stand in the file of parts, by the section of the schedule.
KINDS = {"tubes": "tube_kinds", "zones": "zone_kinds"}


def parts_named(data: object) -> str | None:
    """Return the file of parts that the data of a schedule name, None if they name none."""
    name = data.get(PARTS) if isinstance(data, dict) else None
    return name if isinstance(name, str) else None


def files_beside(data: object) -> list[str]:
    """Return all files that the data of a schedule name, by their paths from its folder."""
    parts = parts_named(data)
    return [*([] if parts is None else [parts]), *files_named(data)]


def readings_of_parts(name: str, data: object) -> list[str]:
    """Return the files of readings that parts name, by their paths from the folder of the schedule."""
    if not isinstance(data, dict):
        return []
    as_schedule = {"ballasts": data.get("ballasts"), "tubes": data.get(KINDS["tubes"])}
    return [_from_schedule(name, each) for each in files_named(as_schedule)]


def take_parts(
    source: Document, bad: set[Path], file: FileBytes | None
) -> tuple[Document, set[Path], list[Diagnostic]]:
    """Return a schedule together with what it takes from its file of parts.

    Parameters
    ----------
    source : Document
        The schedule: a mapping whose shape has been checked.
    bad : set of Path
        Its faulty values.
    file : bytes, str or None
        The file of parts, or why it can't be read; None if the schedule names none.

    Returns
    -------
    document : Document
        The schedule with the parts in it; each value knows the file and the line where it stands.
    bad : set of Path
        Faulty values, those of the parts and what hangs on them included.
    diagnostics : list of Diagnostic
        Faults of the file of parts, and of what the schedule says of it. Those in the file have their places.
    """
    merging = _Merging(source, bad)
    if file is None and (PARTS,) not in bad:
        merging.refuse_kinds()
    elif isinstance(file, bytes) and merging.read(file):
        merging.take()
    else:
        if isinstance(file, str):
            merging.findings.add(
                "PHO370",
                (PARTS,),
                f"can't read '{short(str(source.data[PARTS]))}': {file}",
                "its path is that from the folder of the schedule",
            )
        merging.give_up()
    return merging.document, merging.bad, merging.findings


class _Merging:
    """A schedule into which parts are put.

    Parameters
    ----------
    source : Document
        The schedule.
    bad : set of Path
        Its faulty values.
    """

    def __init__(self, source: Document, bad: set[Path]) -> None:
        self.document = replace(source, data=dict(source.data))
        self.bad = set(bad)
        self.findings = Findings()
        self.own: dict[str, Any] = self.document.data
        self.parts, self.bad_parts = Document(""), set[Path]()

    def read(self, raw: bytes) -> bool:
        """Read the file of parts; False if nothing can be taken from it."""
        self.parts = read_text(str(self.own[PARTS]), raw, HOLDS)
        self.document.parts = self.parts
        found = list(self.parts.diagnostics)
        data = self.parts.data
        other = _of_another_kind(data)
        if other is not None:
            found.append(other)
        elif data is not None:
            shape, self.bad_parts = validate(data, PARTS)
            found += [each for each in shape if each.path not in self.parts.bad]
            self.bad_parts |= self.parts.bad
        self.findings += [self._in_parts(each) for each in found]
        return isinstance(data, dict) and other is None and () not in self.bad_parts

    def take(self) -> None:
        """Put the parts into the schedule."""
        there: dict[str, Any] = self.parts.data
        for section in ("controller", "ballasts"):
            if (section,) in self.bad_parts:
                self.bad |= {(section,)} if section not in self.own else set()
        self._take_controller(there)
        self._take_ballasts(there)
        for section in KINDS:
            self._take_kinds(section, there)

    def give_up(self) -> None:
        """Mark what would have come from the file of parts, so that nobody complains of it."""
        self.bad |= {(key,) for key in ("controller", "ballasts") if key not in self.own}
        self._mark_ballasts(self._entries(self.own, "ballasts"))
        for section in KINDS:
            self.bad |= {(section, id) for id, _ in self._with_kinds(section)}

    def refuse_kinds(self) -> None:
        """Report kinds that are named where no file of parts is."""
        for section in KINDS:
            for id, kind in self._with_kinds(section):
                self.findings.add(
                    "PHO301",
                    (section, id, LIKE),
                    f"there is no {_kind_word(section)} '{short(kind)}': the schedule names no file of parts",
                    f"name the file that has it: `{PARTS}: …`",
                )
                self.bad.add((section, id))

    def _take_controller(self, there: Mapping[str, Any]) -> None:
        if "controller" in there:
            if "controller" in self.own:
                self._said_twice(("controller",), ("controller",))
            else:
                self._put(("controller",), ("controller",), there["controller"])
        elif "controller" not in self.own:
            self._missing("controller")

    def _take_ballasts(self, there: Mapping[str, Any]) -> None:
        """Take the ballasts that channels name: what no channel uses is that of other tanks."""
        own, shared = self._entries(self.own, "ballasts"), self._entries(there, "ballasts")
        for id in shared:
            if id in own:
                self._said_twice(("ballasts", id), ("ballasts", id))
        known = {**own, **shared}
        if not known:
            if ("ballasts",) not in self.bad:
                self._missing("ballasts")
            return
        if {("ballasts",)} & (self.bad | self.bad_parts):
            self._mark_ballasts(known)
            return
        taken = dict(own)
        for id, channel in self._entries(self.own, "channels").items():
            name = channel.get("ballast") if isinstance(channel, dict) else None
            path: Path = ("channels", id, "ballast")
            if not isinstance(name, str) or path in self.bad:
                continue
            if name in shared and name not in taken:
                taken[name] = None
            elif name not in known:
                self._unknown(name, known, "ballast", path, ("ballasts",))
                self.bad.add(path)
        self.own["ballasts"] = taken
        if not own:
            self.document.taken[("ballasts",)] = ("ballasts",)
        for id in shared:
            if id in taken and id not in own:
                self._put(("ballasts", id), ("ballasts", id), shared[id])

    def _take_kinds(self, section: str, there: Mapping[str, Any]) -> None:
        """Give tubes or zones the keys of their kinds."""
        key = KINDS[section]
        kinds = self._entries(there, key)
        entries = self._entries(self.own, section)
        for id, kind in self._with_kinds(section):
            start: Path = (key, kind)
            at: Path = (section, id)
            if start in self.bad_parts or (key,) in self.bad_parts:
                self.bad.add(at)
            elif kind not in kinds:
                self._unknown(kind, kinds, _kind_word(section), (*at, LIKE), (key,))
                self.bad.add(at)
            else:
                entries = {**entries, id: dict(entries[id])}
                self.own[section] = entries
                self._put_keys(entries[id], at, start, kinds[kind])

    def _put_keys(
        self, entry: Mapping[str, Any], at: Path, start: Path, kind: Mapping[str, Any]
    ) -> None:
        for key, value in kind.items():
            if key in entry:
                self._said_twice((*at, key), (*start, key))
            else:
                self._put((*at, key), (*start, key), value)
        lacking = {p[2] for p in self.bad_parts if p[:2] == start and len(p) == 3}
        self.bad |= {(*at, key) for key in lacking}

    def _put(self, at: Path, start: Path, value: Any) -> None:
        """Put a value of the parts into the schedule, with its place and its faults."""
        into: Any = self.own
        for step in at[:-1]:
            into = into[step]
        into[at[-1]] = _with_readings(value, self.parts.name)
        self.document.taken[at] = start
        size = len(start)
        self.bad |= {(*at, *path[size:]) for path in self.bad_parts if path[:size] == start}

    def _said_twice(self, at: Path, start: Path) -> None:
        place = self.parts.locate(start, on_key=True)
        self.findings.add(
            "PHO371",
            at,
            f"'{short(str(at[-1]))}' stands here and in '{short(self.parts.name)}'",
            "remove one of the two",
            on_key=True,
            related=(
                Related(
                    message="it stands here too",
                    path=start,
                    source_range=place,
                    file=self.parts.name,
                ),
            ),
        )

    def _missing(self, key: str) -> None:
        self.findings.add(
            "PHO202",
            (PARTS,),
            f"neither the schedule nor '{short(self.parts.name)}' has '{key}'",
            "write it into one of the two",
        )
        self.bad.add((key,))

    def _unknown(
        self, name: str, known: Mapping[str, Any], word: str, path: Path, start: Path
    ) -> None:
        """Report an id that is not known, unless what was probably meant has a fault of its own."""
        guess = close_match(name, list(known))
        if guess is None or (*start, guess) not in self.bad | self.bad_parts:
            message = f"there is no {word} '{short(name)}'"
            self.findings.add("PHO301", path, message, suggestion(name, list(known), word))

    def _mark_ballasts(self, known: Mapping[str, Any]) -> None:
        """Mark the ballasts that channels name and that are not known because of a fault."""
        for id, channel in self._entries(self.own, "channels").items():
            if isinstance(channel, dict) and channel.get("ballast") not in known:
                self.bad.add(("channels", id, "ballast"))

    def _with_kinds(self, section: str) -> list[tuple[str, str]]:
        """Return the tubes or zones that name a kind, with the kind."""
        return [
            (id, entry[LIKE])
            for id, entry in self._entries(self.own, section).items()
            if isinstance(entry, dict)
            and isinstance(entry.get(LIKE), str)
            and not {(section, id), (section, id, LIKE)} & self.bad
        ]

    def _in_parts(self, found: Diagnostic) -> Diagnostic:
        """Return a finding on the file of parts with its place there."""
        placed = self.parts.place(found)
        related = tuple(replace(each, file=self.parts.name) for each in placed.related)
        return replace(placed, file=self.parts.name, related=related)

    @staticmethod
    def _entries(data: Mapping[str, Any], key: str) -> dict[str, Any]:
        value = data.get(key)
        return value if isinstance(value, dict) else {}


def _of_another_kind(data: object) -> Diagnostic | None:
    """Return what to say of a file that is a schedule, or names parts itself; None for parts."""
    if not isinstance(data, dict):
        return None
    if "schedule" in data:
        return Diagnostic(
            code="PHO372",
            path=("schedule",),
            on_key=True,
            message="this is a schedule, not a file of parts",
            help="a file of parts begins with `parts: 1`",
        )
    if isinstance(data.get(PARTS), str):
        return Diagnostic(
            code="PHO372",
            path=(PARTS,),
            message="a file of parts names no other file of parts",
            help="write all shared parts into one file that begins with `parts: 1`",
        )
    return None


def _kind_word(section: str) -> str:
    return KINDS[section][:-1].replace("_", " ")


def _with_readings(value: Any, parts: str) -> Any:
    """Return a value whose files of readings are named by their paths from the folder of the schedule."""
    if not isinstance(value, dict):
        return value
    value = copy.deepcopy(value)
    for about in (value, *value.values()):
        if isinstance(about, dict) and isinstance(about.get("readings"), str):
            about["readings"] = _from_schedule(parts, about["readings"])
    return value


def _from_schedule(parts: str, name: str) -> str:
    """Return the path of a file from the folder of the schedule, by its path from that of the parts."""
    return posixpath.join(posixpath.dirname(parts), name)
