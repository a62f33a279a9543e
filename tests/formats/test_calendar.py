"""The calendar, read back by another parser (vobject), and held against examples of RFC 5545."""

from __future__ import annotations

import datetime as dt
import sys
from typing import Any

import icalendar
import pytest
import vobject

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.calendar import render, render_text, uid
from photoperiod.program.model import Program
from photoperiod.upkeep.agenda import Errand, ErrandKind, agenda
from tests.program import bench
from tests.upkeep.bench import program

PLACE = (
    "title: New tubes\n",
    "title: New tubes\nplace: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n",
)


def new_tubes(place: bool = True) -> Program:
    from photoperiod.program.dated_tables import compile_program

    schedule = bench.edited(PLACE) if place else bench.schedule()
    return compile_program(schedule, bench.march(1, 31))


def events(content: bytes) -> list[Any]:
    return list(vobject.readOne(content.decode("utf-8")).vevent_list)


def test_another_parser_reads_what_is_to_be_done() -> None:
    p = new_tubes()
    read, wanted = events(render(p)), agenda(p)
    assert len(read) == len(wanted) > 5
    for event, errand in zip(read, wanted, strict=True):
        assert event.summary.value == errand.title
        assert event.description.value == errand.words
        assert event.uid.value == uid(p, errand)
        assert event.dtstamp.value == dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
        assert event.categories.value == [str(errand.kind)]


def test_hours_of_a_load_are_in_utc_where_the_place_is_known() -> None:
    # Standard time of the Azores is UTC−1: 21:00 there is 22:00 UTC
    load = next(e for e in events(render(new_tubes())) if e.summary.value.startswith("Load 2"))
    assert load.dtstart.value == dt.datetime(2027, 3, 1, 22, tzinfo=dt.UTC)
    assert load.dtend.value == dt.datetime(2027, 3, 2, 10, tzinfo=dt.UTC)
    assert load.valarm.trigger.value == dt.timedelta(hours=-1)
    floating = [
        e for e in events(render(new_tubes(place=False))) if e.summary.value.startswith("Load 2")
    ]
    assert floating[0].dtstart.value == dt.datetime(2027, 3, 1, 21)


def test_dates_end_before_dtend() -> None:
    # RFC 5545, 3.6.1: "28 June 2007 … through 8 July": DTSTART;VALUE=DATE:20070628, DTEND;VALUE=DATE:20070709
    p = new_tubes()
    burn_in = next(each for each in agenda(p) if each.kind is ErrandKind.BURN_IN)
    assert (burn_in.begin, burn_in.end) == (dt.date(2027, 3, 2), dt.date(2027, 3, 3))
    text = render(p).decode()
    block = text[text.index("SUMMARY:blue burns in") :]
    assert "DTSTART;VALUE=DATE:20270302\r\nDTEND;VALUE=DATE:20270304\r\n" in block


def test_lines_and_texts_keep_the_standard() -> None:
    # RFC 5545, 3.1: lines end with CRLF and have at most 75 octets; 3.3.11: commas and semicolons have a
    # backslash before them
    content = render(new_tubes())
    lines = content.split(b"\r\n")
    assert content.endswith(b"END:VCALENDAR\r\n") and b"\n" not in content.replace(b"\r\n", b"")
    assert max(map(len, lines)) <= 75
    assert b"\\, and dark otherwise" in content.replace(b"\r\n ", b"")
    for needed in (b"VERSION:2.0", b"PRODID:", b"UID:", b"DTSTAMP:20270301T000000Z"):
        assert needed in content


def test_the_example_of_the_standard_reads_alike() -> None:
    # RFC 5545, 3.6.1, "Annual Employee Review": the library that writes and the one that judges see the same
    example = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//hacksw/handcal//NONSGML v1.0//EN\r\nBEGIN:VEVENT\r\n"
        "UID:19970901T130000Z-123401@example.com\r\nDTSTAMP:19970901T130000Z\r\n"
        "DTSTART:19970903T163000Z\r\nDTEND:19970903T190000Z\r\nSUMMARY:Annual Employee Review\r\n"
        "CLASS:PRIVATE\r\nCATEGORIES:BUSINESS,HUMAN RESOURCES\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    (event,) = events(example.encode())
    assert event.dtstart.value == dt.datetime(1997, 9, 3, 16, 30, tzinfo=dt.UTC)
    assert event.categories.value == ["BUSINESS", "HUMAN RESOURCES"]
    (ours,) = icalendar.Calendar.from_ical(example).walk("VEVENT")
    assert ours.decoded("dtstart") == event.dtstart.value
    assert ours.decoded("dtend") == event.dtend.value
    assert str(ours["uid"]) == event.uid.value


def test_the_same_program_gives_the_same_bytes_and_uids_stay() -> None:
    p = new_tubes()
    assert render(p) == render(new_tubes())
    longer = {uid(p, each) for each in agenda(p) if each.kind is not ErrandKind.COMPILE}
    assert len(longer) == len(agenda(p)) - 1  # each has its own
    shorter = bench.program(bench.march(1, 20))
    kept = {uid(shorter, each) for each in agenda(shorter) if each.kind is not ErrandKind.COMPILE}
    assert kept <= longer


def test_as_text() -> None:
    text = render_text(new_tubes())
    assert "2027-03-02  2027-03-03  burn-in  blue is at full from" in text
    assert "2027-03-02              fit      Fit a and b on 2027-03-02 before 08:00. Unplug" in text


def test_without_the_library_the_way_out_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "icalendar", None)
    with pytest.raises(OutsideWorldError) as raised:
        render(program("2027-03-01", "2027-03-02"))
    assert raised.value.code == "PHO517"


def test_what_names_an_errand() -> None:
    errand = Errand(
        kind=ErrandKind.DUE,
        what="a",
        begin=dt.date(2027, 3, 2),
        end=dt.date(2027, 3, 2),
        title="",
        words="",
    )
    assert uid(program("2027-03-01", "2027-03-02"), errand) == "20270302-due-a@bench.photoperiod"
