"""What is to be done, as a calendar (iCalendar, RFC 5545) and as text.

Hours are on the controller's clock. Where the place is known they are written in UTC, so that every
calendar shows them in its own zone; else without a zone. The same program gives the same bytes: the
time stamp of all events is the first date.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from photoperiod.days.day_curves import clock_of
from photoperiod.errors import OutsideWorldError
from photoperiod.program.model import Program
from photoperiod.text import columns, extra_text, safe
from photoperiod.upkeep.agenda import Errand, ErrandKind, agenda

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//photoperiod//agenda 1//EN"

#: Hands are needed for these: a reminder comes so long before. Our choice.
REMINDED = (ErrandKind.LOAD, ErrandKind.FIT)
REMIND_BEFORE = dt.timedelta(hours=1)


def render(program: Program) -> bytes:
    """Return the agenda of a program with dates as a calendar.

    Raises
    ------
    OutsideWorldError
        PHO517 if the library `icalendar` is not installed.
    """
    try:
        import icalendar
    except ImportError as error:
        raise OutsideWorldError(
            "PHO517",
            "the library that writes calendars is not installed",
            f"{extra_text('calendar')}; or print the agenda as text",
        ) from error

    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", program.schedule.title)
    for errand in agenda(program):
        calendar.add_component(_event(icalendar.Event(), program, errand))
    return bytes(calendar.to_ical())


def render_text(program: Program, room: int | None = None) -> str:
    """Return the agenda as text: a line for each errand.

    ``room`` is how many columns a line may take; None if that is not known.
    """
    rows = [(str(each.date), _until(each), each.kind, safe(each.words)) for each in agenda(program)]
    lines = [safe(program.schedule.title), "", *columns(("date", "until", "what", ""), rows, room)]
    return "\n".join(lines) + "\n"


def _until(errand: Errand) -> str:
    end = errand.end.date() if isinstance(errand.end, dt.datetime) else errand.end
    return "" if end == errand.date else str(end)


def uid(program: Program, errand: Errand) -> str:
    """Return what tells an errand from all others: it stays if the program is compiled again."""
    tank = program.schedule.tank
    return f"{errand.date:%Y%m%d}-{errand.kind}-{errand.what}@{tank}.photoperiod"


def _event(event: Event, program: Program, errand: Errand) -> Event:
    import icalendar

    assert program.span is not None
    stamp = dt.datetime.combine(program.span.first, dt.time(), dt.UTC)
    event.add("uid", uid(program, errand))
    event.add("dtstamp", stamp)
    if isinstance(errand.begin, dt.datetime) and isinstance(errand.end, dt.datetime):
        event.add("dtstart", _moment(program, errand.begin))
        if errand.end > errand.begin:
            event.add("dtend", _moment(program, errand.end))
    else:
        event.add("dtstart", errand.begin)
        event.add(
            "dtend", errand.end + dt.timedelta(days=1)
        )  # the first date that is not one of them
    event.add("summary", errand.title)
    event.add("description", errand.words)
    event.add("categories", [str(errand.kind)])
    if errand.kind in REMINDED:
        alarm = icalendar.Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", errand.title)
        alarm.add("trigger", -REMIND_BEFORE)
        event.add_component(alarm)
    return event


def _moment(program: Program, moment: dt.datetime) -> dt.datetime:
    """Return a moment of the controller's clock in UTC, or as it is where no place is known."""
    schedule = program.schedule
    if schedule.place is None and schedule.controller.clock != "utc":
        return moment
    second = (moment.hour * 60 + moment.minute) * 60 + moment.second
    unix_s = clock_of(schedule, schedule.controller.clock).unix_of(moment.date(), second)
    return dt.datetime.fromtimestamp(unix_s, dt.UTC)
