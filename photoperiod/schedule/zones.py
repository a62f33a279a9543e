"""Zones: what the animals in them should and must not get."""

from __future__ import annotations

from photoperiod.readings.extent import Box, Extent, PointList, Statistic
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import (
    DARK_HOURS_MIN,
    DAY_MOVES_MAX_S,
    DOSE_RISE_MAX,
    PEAK_RISE_MAX,
    FromReadings,
    Zone,
)
from photoperiod.schedule.move_rules import read_wanted
from photoperiod.text import number_text


def build_zone(id: str, cursor: Cursor, findings: Findings) -> Zone:
    """Return a zone, or raise AlreadyReported."""
    band = cursor.get("dli")
    if band is not None and band[0] > band[1]:
        findings.add(
            "PHO319",
            cursor.at("dli"),
            f"{band[0]} is above {band[1]}",
            f"write [{band[1]}, {band[0]}]",
        )
        raise AlreadyReported
    if not cursor.has("dark_hours_min"):
        findings.add(
            "PHO324",
            cursor.path,
            f"'dark_hours_min' of zone '{id}' is taken as {number_text(DARK_HOURS_MIN)} h",
            on_key=True,
        )
    return Zone(
        id=id,
        label=cursor.text("label"),
        dli_band=None if band is None else (float(band[0]), float(band[1])),
        wanted_dli=read_wanted(cursor, findings),
        ppfd_max=cursor.optional_number("ppfd_max"),
        ek_ppfd=cursor.optional_number("ek_ppfd"),
        ppfd_rise_per_minute_max=cursor.optional_number("ppfd_rise_per_minute_max"),
        dark_hours_min=cursor.number("dark_hours_min", DARK_HOURS_MIN),
        extent=_extent(cursor, findings),
        from_readings=_from_readings(cursor),
        peak_rise_max=cursor.number("peak_rise_percent_max", PEAK_RISE_MAX * 100) / 100,
        dose_rise_max=cursor.number("dose_rise_percent_max", DOSE_RISE_MAX * 100) / 100,
        day_moves_max_s=round(cursor.number("day_moves_minutes_max", DAY_MOVES_MAX_S / 60) * 60),
    )


def _extent(cursor: Cursor, findings: Findings) -> Extent:
    """Return where a zone is, None if the file does not say."""
    if not cursor.has("extent"):
        return None
    extent = cursor.child("extent")
    if extent.text("kind") == "points":
        return PointList(
            points=tuple(
                (point.number("x_cm"), point.number("y_cm"), point.number("depth_cm"))
                for point in extent.list("points")
            )
        )
    return Box(
        x_cm=_range(extent, "x_cm", findings),
        y_cm=_range(extent, "y_cm", findings),
        depth_cm=_range(extent, "depth_cm", findings),
    )


def _range(cursor: Cursor, key: str, findings: Findings) -> tuple[float, float]:
    low, high = cursor.get(key)
    if low > high:
        findings.add("PHO319", cursor.at(key), f"{low} is above {high}", f"write [{high}, {low}]")
        raise AlreadyReported
    return float(low), float(high)


def _from_readings(cursor: Cursor) -> FromReadings:
    """Return which value of a zone's readings stands for what."""
    usual, chosen = FromReadings(), cursor.child_or_empty("from_readings")
    return FromReadings(
        limits=chosen.kind("limits", Statistic, usual.limits),
        dose=chosen.kind("dose", Statistic, usual.dose),
        dli_least=chosen.kind("dli_least", Statistic, usual.dli_least),
    )
