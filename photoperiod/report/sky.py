"""Events of the sky, date by date: text, CSV or JSON."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dates import DateSpan
from photoperiod.report.summary import clock_change_text
from photoperiod.sky.clock import ZONE_DATA
from photoperiod.sky.moon import illuminated_fraction
from photoperiod.text import clock_text, columns, json_text, number_text, safe

#: What is listed of the sun, in the order of a day.
SUN_EVENTS = (
    "astronomical dawn", "nautical dawn", "civil dawn", "sunrise", "noon", "sunset", "civil dusk",
    "nautical dusk", "astronomical dusk",
)  # fmt: skip

MOON_EVENTS = ("moonrise", "moonset")


@dataclass(frozen=True, slots=True)
class SkyDate:
    """The sky of one date of the plan's clock.

    ``events`` are seconds from midnight [s]: none, one or two; ``day_s`` is how long the sun is up
    [s], ``highest_deg`` its altitude at noon [°]; the moon's ``phase_angle_deg`` (0 full, 180 new),
    lit ``fraction`` and ``brightness`` beside that of a full moon exactly opposite the sun are those of
    the midnight that ends the date.
    """

    date: dt.date
    events: dict[str, list[int]]
    day_s: int
    highest_deg: float
    phase_angle_deg: float
    fraction: float
    brightness: float


def sky_dates(days: DayCurves, span: DateSpan) -> list[SkyDate]:
    """Return events and light of sun and moon for each date of a span."""
    return [_sky_date(days, date) for date in span]


def _sky_date(days: DayCurves, date: dt.date) -> SkyDate:
    sky = days.sky_on(date)
    events = {name: sky.shown(name, date) for name in (*SUN_EVENTS, *MOON_EVENTS)}
    begin, end = sky.clock.day_bounds(date)
    angle = sky.phase_angle_deg(date, end - begin)
    return SkyDate(
        date=date,
        events=events,
        day_s=sky.sun_up_s(date),
        highest_deg=sky.highest_deg(date),
        phase_angle_deg=angle,
        fraction=illuminated_fraction(angle),
        brightness=sky.moonlight(date, end - begin),
    )


def render_text(title: str, days: DayCurves, dates: Sequence[SkyDate]) -> str:
    """Return a table for a person; times are on the plan's clock."""
    head = ("date", *SUN_EVENTS, "day", "noon alt.", *MOON_EVENTS, "moon lit", "moonlight")
    rows = [
        (
            str(each.date),
            *(_times(each.events[name]) for name in SUN_EVENTS),
            clock_text(round(each.day_s / 60) * 60),
            f"{number_text(each.highest_deg, 1)}°",
            *(_times(each.events[name]) for name in MOON_EVENTS),
            f"{number_text(each.fraction * 100, 1)} %",
            f"{number_text(each.brightness * 100, 1)} %",
        )
        for each in dates
    ]
    lines = [safe(title), _whose(days, dates[0].date), "", *columns(head, rows)]
    changes = days.clock_changes(dates[0].date, dates[-1].date)
    if changes:
        lines += ["", *(clock_change_text(name, change) for name, change in changes)]
    lines += [
        "",
        "times are to the nearest minute. moon lit: share of the disc; moonlight: brightness by the phase"
        " law beside a full moon exactly opposite the sun; both at the midnight that ends the date.",
    ]
    return "\n".join(lines) + "\n"


def _whose(days: DayCurves, first: dt.date) -> str:
    sky = days.sky_on(first)
    sun, shift_s = sky.sun, sky.shift_s
    north = "N" if sun.latitude_deg >= 0 else "S"
    east = "E" if sun.longitude_deg >= 0 else "W"
    where = (
        f"{number_text(abs(sun.latitude_deg), 4)}° {north},"
        f" {number_text(abs(sun.longitude_deg), 4)}° {east}"
    )
    later = ""
    if shift_s:
        way = "later" if shift_s > 0 else "earlier"
        later = f", everything {clock_text(abs(shift_s))} {way} than there"
    seasons = sun.season_share
    kept = "" if seasons == 1 else f", {number_text(seasons * 100)} % of its seasons"
    return (
        f"the sky of {where}{later}{kept}; times on the plan's clock ({days.schedule.plan_clock});"
        f" {ZONE_DATA}"
    )


def _times(seconds: Sequence[int]) -> str:
    """Return times to the nearest minute, as almanacs print them; 24:00 ends the date."""
    return "/".join(clock_text((second + 30) // 60 * 60) for second in seconds) or "-"


def render_csv(dates: Sequence[SkyDate]) -> str:
    """Return CSV (RFC 4180) with one row for each date; two times of one event stand with a slash."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    names = [name.replace(" ", "_") for name in (*SUN_EVENTS, *MOON_EVENTS)]
    numbers = ("day_seconds", "noon_altitude_deg", "moon_phase_angle_deg",
               "moon_lit_fraction", "moonlight_of_full_moon")  # fmt: skip
    writer.writerow(("date", *names, *numbers))
    for each in dates:
        writer.writerow(
            (
                each.date,
                *(
                    "/".join(clock_text(second, with_seconds=True) for second in each.events[name])
                    for name in (*SUN_EVENTS, *MOON_EVENTS)
                ),
                each.day_s,
                f"{each.highest_deg:.2f}",
                f"{each.phase_angle_deg:.2f}",
                f"{each.fraction:.4f}",
                f"{each.brightness:.5f}",
            )
        )
    return text.getvalue()


def render_json(days: DayCurves, dates: Sequence[SkyDate]) -> str:
    """Return the dates and the clock changes as JSON; ``shift_s`` is that of the first date."""
    sky = days.sky_on(dates[0].date)
    data: dict[str, Any] = {
        "format": "photoperiod-sky",
        "version": 1,
        "zone_data": ZONE_DATA,
        "latitude_deg": sky.sun.latitude_deg,
        "longitude_deg": sky.sun.longitude_deg,
        "season_share": sky.sun.season_share,
        "shift_s": sky.shift_s,
        "clock": days.schedule.plan_clock,
        "dates": [
            {
                "date": each.date.isoformat(),
                "events": {
                    name.replace(" ", "_"): [
                        clock_text(second, with_seconds=True) for second in seconds
                    ]
                    for name, seconds in each.events.items()
                },
                "day_s": each.day_s,
                "noon_altitude_deg": round(each.highest_deg, 3),
                "moon_phase_angle_deg": round(each.phase_angle_deg, 3),
                "moon_lit_fraction": round(each.fraction, 5),
                "moonlight_of_full_moon": round(each.brightness, 6),
            }
            for each in dates
        ],
        "clock_changes": [
            change.data(name) for name, change in days.clock_changes(dates[0].date, dates[-1].date)
        ],
    }
    return json_text(data)
