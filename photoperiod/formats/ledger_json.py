"""The ledger on disk: what tubes had burned and owed, and the peaks of zones, as a date span ended.

A ledger holds one entry for each date span that was compiled with it. So the same span can be compiled
again, and the next one goes on where it ended.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any

from photoperiod import __version__
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.integrity import has_its_digest, version_fault, with_digest
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_before import last_light
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.tube_places import left_at
from photoperiod.source.json_schema import validate
from photoperiod.text import json_text, short
from photoperiod.tubes.hours import LastLight, LedgerState, NoDayBefore, TubeState

FORMAT = "photoperiod-ledger"

VERSION = 1

#: Only the last entries are kept, this many.
MOST_ENTRIES = 10_000

#: A larger file is refused; the most entries take far less. [bytes]
MOST_BYTES = 64 * 2**20


def parse_ledger(name: str, raw: bytes) -> dict[str, Any]:
    """Return a ledger as data.

    Raises
    ------
    OutsideWorldError
        PHO504 if the bytes are no ledger, or a broken one.
    """
    if len(raw) >= MOST_BYTES:
        raise _refused(name, "it is too large")
    try:
        data = json.loads(raw, object_pairs_hook=_object, parse_constant=_not_a_number)
    except (ValueError, RecursionError) as error:
        why = str(error) if isinstance(error, _Broken) else "it is not JSON"
        raise _refused(name, why) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise _refused(name, "it is not a ledger of photoperiod")
    if data.get("version") != VERSION:
        raise _refused(name, version_fault(data.get("version"), VERSION))
    faults, _ = validate(data, "ledger")
    if faults:
        raise _refused(name, f"it is broken: {faults[0].message}")
    if not has_its_digest(data):
        raise _refused(name, "it was changed after photoperiod wrote it")
    dates = [data["begins"], *(entry["through"] for entry in data["entries"])]
    if not all(_is_date(text) for text in dates) or dates[1:] != sorted(set(dates[1:])):
        raise _refused(name, "its dates are broken")
    windows = [w for entry in data["entries"] for w in entry["at_full"].values()]
    if any(w["start_second"] >= w["stop_second"] for w in windows):
        raise _refused(name, "it is broken: a channel is at full until before it begins")
    if dates[0] > dates[1]:
        raise _refused(name, f"it begins on {dates[0]}, after its first entry ended")
    return data


def ledger_bytes(data: Mapping[str, Any]) -> bytes:
    """Return a ledger as the bytes of a file, with its digest; `parse_ledger` reads them back."""
    return json_text(with_digest(data)).encode()


class _Broken(ValueError):
    """What makes JSON no ledger."""


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _Broken("it is broken: a key stands there twice")
    return found


def _not_a_number(text: str) -> None:
    raise _Broken(f"it is broken: {text} is no number of hours")


def ledger_state_before(
    name: str, data: dict[str, Any], schedule: Schedule, span: DateSpan
) -> LedgerState:
    """Return what is known as a date span begins: hours of tubes, channels at full, peaks of zones.

    Hours that were corrected in the schedule since then are corrected in the result. The result is
    empty if the ledger begins with this very span: tubes are then followed from their fitting on, as
    they were the first time.

    Raises
    ------
    OutsideWorldError
        PHO504 if the ledger belongs to another tank, has no entry that ends right before the
        span, or lacks a tube that was fitted before it.
    """
    tank = data["schedule"]["tank"]
    if tank != schedule.tank:
        raise _refused(name, f"it belongs to the tank '{short(tank)}', not to '{schedule.tank}'")
    if span.first.isoformat() == data["begins"]:
        return LedgerState(why_no_light=NoDayBefore.BEGINS_HERE)
    day_before = (span.first - dt.timedelta(days=1)).isoformat()
    entry = next((e for e in data["entries"] if e["through"] == day_before), None)
    if entry is None:
        raise OutsideWorldError(
            "PHO504",
            f"the ledger '{name}' begins on {data['begins']} and ends on"
            f" {data['entries'][-1]['through']}; it does not lead up to {span.first}",
            _ways_to_lead_up(data, span.first),
        )
    found, left = {}, left_at(schedule)
    for id, tube in schedule.tubes.items():
        known = entry["tubes"].get(id)
        fitted = None if tube.fitted is None else tube.fitted.isoformat()
        if known is not None and known["fitted"] == fitted:
            lit = known["lit_hours"] + tube.lit_hours - known["declared_lit_hours"]
            owed = known["owed_hours"] + tube.burn_in_full_hours - known["declared_owed_hours"]
            found[id] = TubeState(max(float(lit), 0.0), max(float(owed), 0.0))
        elif id in left and left[id].date() < span.first:
            continue  # what it burned plays no part any more
        elif tube.fitted is not None and tube.fitted.date() < span.first:
            raise OutsideWorldError(
                "PHO504",
                f"tube '{id}', fitted on {tube.fitted.date()}, is not in the ledger '{name}', which"
                f" goes through {day_before}",
                "compile again from its fitting on, or correct `fitted`",
            )
    windows = {
        id: (window["start_second"], window["stop_second"])
        for id, window in entry["at_full"].items()
        if id in schedule.channels
    }
    return LedgerState(
        tubes=found,
        windows=windows,
        light=_light(entry),
        readings=dict(entry["readings"]),
        held=dict(entry.get("held", {})),
    )


def _ways_to_lead_up(data: Mapping[str, Any], first: dt.date) -> str:
    """Return from which dates a span can begin instead: the nearest before it that the ledger leads up to."""
    ends = [dt.date.fromisoformat(entry["through"]) for entry in data["entries"]]
    earlier = [end for end in ends if end < first]
    begin = f"from {data['begins']}, with which it begins"
    if not earlier:
        return f"compile {begin}; or name another ledger"
    after = max(earlier) + dt.timedelta(days=1)
    return f"compile from {after}, the day after an entry of it ended; or {begin}"


def render_ledger(program: Program, old: dict[str, Any] | None) -> bytes:
    """Return a ledger with a new entry: the hours of a program's tubes as its span ended.

    Entries of the old ledger that end before the span are kept.
    """
    assert program.span is not None
    first, last = program.span.first.isoformat(), program.span.last.isoformat()
    kept = [] if old is None else [entry for entry in old["entries"] if entry["through"] < first]
    tubes = {
        id: {
            "fitted": None if t.tube.fitted is None else t.tube.fitted.isoformat(),
            "lit_hours": t.hours.lit_hours,
            "owed_hours": t.hours.owed_hours,
            "declared_lit_hours": t.tube.lit_hours,
            "declared_owed_hours": t.tube.burn_in_full_hours,
        }
        for id, t in program.tubes.items()
        if t.is_fitted
    }
    light = last_light(program)
    at_full = {
        id: {"start_second": start, "stop_second": stop}
        for id, (start, stop) in program.tables[-1].plan.windows.items()
    }
    held = {
        id: c.held
        for id, c in program.tables[-1].channels.items()
        if c.channel.held_within is not None
    }
    entry: dict[str, Any] = {
        "through": last,
        "at_full": at_full,
        "peaks": {id: each.peak_ppfd for id, each in light.items()},
        "light": {
            id: {
                "dli": each.dli,
                "middle_second": each.middle_s,
                "dark_days": each.dark_days,
            }
            for id, each in light.items()
        },
        "readings": {id: dict(c.full_ppfd) for id, c in program.schedule.channels.items()},
        "tubes": tubes,
    }
    if held:
        entry["held"] = held
    data = {
        "format": FORMAT,
        "version": VERSION,
        "made_with": f"photoperiod {__version__}",
        "schedule": {"tank": program.schedule.tank, "sha256": program.schedule.digest},
        "begins": first if old is None else min(old["begins"], first),
        "entries": [*kept, entry][-MOST_ENTRIES:],
    }
    return ledger_bytes(data)


def _light(entry: Mapping[str, Any]) -> dict[str, LastLight]:
    """Return what zones got last; a ledger of an older version holds their peaks alone."""
    more = entry.get("light", {})
    return {
        id: LastLight(
            peak_ppfd=peak,
            dli=more.get(id, {}).get("dli"),
            middle_s=more.get(id, {}).get("middle_second"),
            dark_days=more.get(id, {}).get("dark_days", 0),
        )
        for id, peak in entry["peaks"].items()
    }


def _is_date(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _refused(name: str, why: str) -> OutsideWorldError:
    return OutsideWorldError(
        "PHO504",
        f"can't use the ledger '{name}': {why}",
        "name another file; without --ledger tubes are followed from their fitting on",
    )
