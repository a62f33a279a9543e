"""Tubes: their dates, hours and depreciation."""

from __future__ import annotations

import datetime as dt

from photoperiod.diagnostics.model import Path
from photoperiod.drive.depreciation import DECLARED_AT_H, Depreciation, DepreciationKind
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.faded import SERIES, faded
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import ReadingsFiles
from photoperiod.schedule.tube import Tube
from photoperiod.text import no_date_text, number_text

#: An earlier date of a tube is a mistake: its hours would be counted day by day. Our choice.
FIRST_YEAR = 1980


def build_tube(id: str, cursor: Cursor, files: ReadingsFiles, findings: Findings) -> Tube:
    """Return a tube, or raise AlreadyReported."""
    fitted = None
    if cursor.has("fitted"):
        fitted = moment(cursor.text("fitted"), cursor.at("fitted"), findings)
    removed = None
    if cursor.has("removed"):
        removed = moment(cursor.text("removed"), cursor.at("removed"), findings)
    _check_life(cursor, findings)
    return Tube(
        id=id,
        label=cursor.text("label"),
        watts=cursor.number("watts"),
        fitted=fitted,
        removed=removed,
        place=cursor.text("place"),
        lit_hours=cursor.number("lit_hours"),
        burn_in_full_hours=cursor.number("burn_in_full_hours"),
        replace_after_hours=cursor.optional_number("replace_after_hours"),
        replace_after_months=cursor.optional_number("replace_after_months"),
        depreciation=_depreciation(cursor, files, findings),
        replace_below=_share(cursor, "replace_below_percent"),
        light_share=cursor.number("light_share"),
        price=cursor.optional_number("price"),
    )


def moment(text: str, path: Path, findings: Findings) -> dt.datetime:
    """Return a date or a date and time in the life of a tube, or raise AlreadyReported."""
    try:
        found = dt.datetime.fromisoformat(text)
    except ValueError:
        findings.add("PHO306", path, *no_date_text(text))
        raise AlreadyReported from None
    if found.year < FIRST_YEAR:
        findings.add(
            "PHO306",
            path,
            f"{text} is before any tube that still burns",
            f"dates begin in {FIRST_YEAR}",
        )
        raise AlreadyReported
    return found


def _check_life(cursor: Cursor, findings: Findings) -> None:
    """Refuse a burn-in that would take longer than the tube lasts."""
    life = cursor.optional_number("replace_after_hours")
    left = None if life is None else max(life - cursor.number("lit_hours"), 0.0)
    if left is not None and cursor.number("burn_in_full_hours") > left:
        findings.add(
            "PHO327",
            cursor.at("burn_in_full_hours"),
            f"a burn-in of {number_text(cursor.number('burn_in_full_hours'))} h does not fit into the"
            f" {number_text(left)} h before the tube is to be replaced",
            "some twelve hours at full are usual; a tube with hours owes none",
        )


def _share(cursor: Cursor, key: str) -> float | None:
    percent = cursor.optional_number(key)
    return None if percent is None else percent / 100


def _depreciation(cursor: Cursor, files: ReadingsFiles, findings: Findings) -> Depreciation | None:
    """Return the loss of light with the hours, or raise AlreadyReported."""
    if not cursor.has("depreciation"):
        return None
    given = cursor.child("depreciation")
    if given.text("kind") == SERIES:
        return faded(given, files, findings)
    if given.kind("kind", DepreciationKind) == DepreciationKind.EXPONENTIAL:
        loss = given.number("loss_percent_per_1000_h") / 100
        return Depreciation(kind=DepreciationKind.EXPONENTIAL, loss_per_1000_h=loss)
    hours: list[float] = []
    light: list[float] = []
    for point in given.list("points"):
        hours.append(point.number("lit_hours"))
        light.append(point.number("light_percent") / 100)
        if len(hours) > 1:
            _check_step(point, hours[-2:], light[-2:], findings)
    return Depreciation(kind=DepreciationKind.POINTS, hours=tuple(hours), light=tuple(light))


def _check_step(point: Cursor, hours: list[float], light: list[float], findings: Findings) -> None:
    """Refuse a point that has no more hours, or more light, than the one before it."""
    if hours[1] <= hours[0]:
        findings.add(
            "PHO328",
            point.at("lit_hours"),
            f"{number_text(hours[1])} h does not come after {number_text(hours[0])} h",
            "list the points by rising hours",
        )
        raise AlreadyReported
    if light[1] > light[0] and hours[1] > DECLARED_AT_H:
        findings.add(
            "PHO328",
            point.at("light_percent"),
            f"the light rises from {number_text(light[0] * 100)} to"
            f" {number_text(light[1] * 100)} % with the hours",
            "a tube gives less and less light after its first hundred hours",
        )
        raise AlreadyReported
