"""Every format says the same: rows, errands, and what a ledger holds."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Mapping
from typing import Any

from tests.drawn import readers
from tests.drawn.case import Case
from tests.drawn.readers import PlainRow, Tables

#: Hours of tubes are written with three decimals. [h]
HOURS_HALF_DIGIT = 6e-4


def formats_say_the_same(case: Case) -> Iterator[str]:
    """Every format tells the same rows as `table.json`, with the digits that it has."""
    files, exports, told = case.files, case.exports, case.tables
    if exports["export.json"] != files["table.json"]:
        yield "export json is not table.json"
    people = {
        d: {id: [_for_people(r) for r in rows] for id, rows in t.items()} for d, t in told.items()
    }
    found = readers.table_csv(files["table.csv"])
    if found != people:
        yield f"table.csv tells other rows{_where(people, found)}"
    bare = {
        d: {
            id: [PlainRow(r.second, r.count, r.relay, r.code) for r in rows]
            for id, rows in t.items()
        }
        for d, t in told.items()
    }
    about, found = readers.records_csv(exports["export.csv"])
    head = {key: value for key, value in case.about.items() if key not in ("tables", "crc32")}
    if about != head:
        yield "export csv is about something else"
    if found != bare:
        yield f"export csv tells other rows{_where(bare, found)}"
    yield from _images_say_the_same(case, head, bare)
    yield from _sheets_say_the_same(case)
    readers.manifest(
        files["manifest.json"], {n: c for n, c in files.items() if n != "manifest.json"}
    )


def _images_say_the_same(case: Case, head: Mapping[str, Any], bare: Tables) -> Iterator[str]:
    exports = case.exports
    about, player, found = readers.image(exports["export.bin"], case.ids)
    # An image has a relay state in each row: on, where there is no column.
    closed = {
        d: {id: [r._replace(relay=r.relay or "on") for r in rows] for id, rows in t.items()}
        for d, t in bare.items()
    }
    if about != head:
        yield "the image is about something else"
    if found != closed:
        yield f"the image tells other rows{_where(closed, found)}"
    seen: set[bytes] = set()  # both hold the same bytes: they are taken apart once
    for name, read in (("export.h", readers.c_header), ("export.py", readers.micropython)):
        raw, channels = read(exports[name])
        if channels != case.ids:
            yield f"{name} names other channels"
        if raw not in seen and readers.image(raw, case.ids)[2] != closed:
            yield f"{name} tells other rows"
        seen.add(raw)
    yield from _player_agrees(case, player)


def _player_agrees(case: Case, player: Any) -> Iterator[str]:
    """The player of docs/player.md puts out what an own integration counts, at some moments."""
    for at, date in enumerate(list(case.tables)[:2]):
        day = 0 if date is None else (dt.date.fromisoformat(date) - dt.date(2000, 1, 1)).days
        played = {id: case.played(id, date) for id in case.ids}
        for second in (case.written.drawn.seed * 7919 % 86_400, 43_200 + at, 86_399):
            _, outputs = player.play(day, second, True, False, 10**6)
            for (count, code, closed), (id, (counts, relays, _)) in zip(
                outputs, played.items(), strict=True
            ):
                path, level = case.paths[id], int(counts[second])
                relay = path.controller["relay"]["kind"]
                if relay == "column" and closed != bool(relays[second]):
                    yield f"{id} on {date} at {second} s: the relay is another one"
                if (closed and count < level) or (not closed and count):
                    yield f"{id} on {date} at {second} s: count {count}, not {level}"
                if count == level and code != path.codes[count]:
                    yield f"{id} on {date} at {second} s: code {code}"


def _sheets_say_the_same(case: Case) -> Iterator[str]:
    """Typing sheets hold all tables, load by load, with three decimals."""
    names = sorted(name for name in case.files if name.startswith("typing-sheet"))
    loads = [table for name in names for table in readers.typing_sheet(case.files[name])]
    if len(loads) != len(case.tables) or len(names) != len(case.summary["loads"]):
        yield f"typing sheets hold {len(loads)} tables, and there are {len(case.tables)}"
        return
    for (date, found, held), (first, table) in zip(loads, case.tables.items(), strict=True):
        if date not in (None, first) or held != case.data["controller"]["setpoints_per_channel"]:
            yield f"the sheet of {first} is of {date}, and {held} rows"
        for id, rows in table.items():
            short = [
                (
                    r.second,
                    r.relay,
                    f"{r.level_percent:.3f}".rstrip("0").rstrip("."),
                    round(r.volts or 0, 3),
                )
                for r in map(_for_people, rows)
            ]
            typed = [
                (r.second, r.relay, f"{r.level_percent:.3f}".rstrip("0").rstrip("."), r.volts)
                for r in found.get(id, [])
            ]
            if len(short) != len(typed) or any(
                a[:2] != b[:2]
                or abs(float(a[2]) - float(b[2])) > 1.1e-3
                or abs(a[3] - (b[3] or 0)) > 1.1e-3
                for a, b in zip(short, typed, strict=True)
            ):
                yield f"the typing sheet of {first} tells other rows of {id}"


def _for_people(row: PlainRow) -> PlainRow:
    return row._replace(count=None)


def _where(wanted: Tables, found: Tables) -> str:
    """Return the first row that differs."""
    for date, table in wanted.items():
        for id, rows in table.items():
            other = found.get(date, {}).get(id, [])
            for a, b in zip(rows, other, strict=False):
                if a != b:
                    return f": {id} on {date}: {a} is {b}"
    return ""


def errands_are_those_of_the_loads(case: Case) -> Iterator[str]:
    """The calendar has a load for each load of the summary, on its date, and each event once."""
    if "calendar.ics" not in case.exports:
        return
    events = readers.calendar(case.exports["calendar.ics"])
    uids = [event["UID"] for event in events]
    if len(set(uids)) != len(uids):
        yield "an errand stands in the calendar twice"
    loads = sorted(event["UID"][:8] for event in events if event["CATEGORIES"] == "load")
    for on, load in itertools.zip_longest(loads, case.summary["loads"]):
        before = dt.date.fromisoformat(load["load_before"]) if load else None
        day = dt.datetime.strptime(on, "%Y%m%d").date() if on else None
        if before is None or day is None or day not in (before, before - dt.timedelta(days=1)):
            yield f"the calendar has a load on {day}, the summary before {before}"


def the_ledger_says_the_same(case: Case) -> Iterator[str]:
    """A ledger has an entry that ends with the dates, with the tubes and peaks that the summary tells."""
    if "ledger.json" not in case.exports:
        return
    data = readers.ledger(case.exports["ledger.json"])
    entry = data["entries"][-1]
    if entry["through"] != case.summary["to_date"]:
        yield f"the ledger ends on {entry['through']}"
    for id, told in case.summary["tubes"].items():
        held = entry["tubes"].get(id)
        if (held is not None) != told["is_fitted_within_dates"]:
            yield f"tube {id} is {'not ' if held is None else ''}in the ledger"
        elif held is not None and (
            abs(held["lit_hours"] - told["lit_hours"]) > HOURS_HALF_DIGIT
            or abs(held["owed_hours"] - told["burn_in_owed_hours"]) > HOURS_HALF_DIGIT
        ):
            yield f"the ledger has other hours of tube {id}: {held}"
    before = case.written.before
    if before is not None and len(data["entries"]) != len(readers.ledger(before)["entries"]) + 1:
        yield "the ledger has not one entry more"
