"""What is to be done on which date: loads, fittings, burn-in, tubes that are due, readings, clocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from photoperiod.program.loads import changed_channels, fittings, load_window
from photoperiod.program.model import Program, Table
from photoperiod.schedule.changes import Acclimation, PartOut
from photoperiod.schedule.model import Channel
from photoperiod.text import and_list, clock_text, counted, number_text
from photoperiod.units import SECONDS_PER_DAY
from photoperiod.upkeep.due import WAYS_TO_REPLACE, forecast

#: PPFD is read again so many days after the last reading. Our choice, no source.
READING_EVERY_DAYS = 182

#: Nor is it read again so many days before new tubes are read. Our choice, no source.
NEW_TUBES_SOON_DAYS = 28

#: Why a channel is read that has no new tubes; true of several channels at once.
NO_DATE, DAYS_PASSED = "no date of measuring is told", f"{READING_EVERY_DAYS} days have passed"

_DAY = dt.timedelta(days=1)


class ErrandKind(StrEnum):
    """What is to be done."""

    OUT = "out"
    LOAD = "load"
    FIT = "fit"
    BURN_IN = "burn-in"
    DUE = "due"
    READING = "reading"
    HELD = "held"
    STEP = "step"
    CLOCK = "clock"
    COMPILE = "compile"


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """Something to do.

    Parameters
    ----------
    kind : ErrandKind
        What it is.
    what : str
        What it is about: the id of a tube, a channel or a clock. With tank, kind and date it tells the errand
        from all others.
    begin, end : date or datetime
        On the controller's clock. Dates are whole ones, ``end`` is the last of them; datetimes are a stretch
        of hours.
    title, words : str
        In a few words, and in full.
    why : str
        Why a channel is to be read; empty for what is no reading.
    """

    kind: ErrandKind
    what: str
    begin: dt.date | dt.datetime
    end: dt.date | dt.datetime
    title: str
    words: str
    why: str = ""

    @classmethod
    def at(
        cls,
        when: dt.date | dt.datetime,
        kind: ErrandKind,
        what: str,
        *,
        title: str,
        words: str,
        why: str = "",
    ) -> Errand:
        """Return an errand of a single date or moment."""
        return cls(kind=kind, what=what, begin=when, end=when, title=title, words=words, why=why)

    @property
    def date(self) -> dt.date:
        """The date on which it begins."""
        return self.begin.date() if isinstance(self.begin, dt.datetime) else self.begin


def agenda(program: Program) -> tuple[Errand, ...]:
    """Return what is to be done over the dates of a program, in their order; nothing without dates."""
    if program.span is None:
        return ()
    found = [
        *_outs(program),
        *_loads(program),
        *_fittings(program),
        *_burn_ins(program),
        *_due(program),
        *_readings(program),
        *_held(program),
        *_steps(program),
        *_clocks(program),
        _compile(program, program.span.last),
    ]
    order = list(ErrandKind)  # of one date: a tube is fitted before it burns in, whatever the hour
    return tuple(sorted(found, key=lambda e: (e.date, order.index(e.kind), _moment(e.begin))))


def _moment(begin: dt.date | dt.datetime) -> dt.datetime:
    if isinstance(begin, dt.datetime):
        return begin
    return dt.datetime.combine(begin, dt.time())


def _outs(program: Program) -> Iterator[Errand]:
    """Yield each part that is out, on its first date within those of the program."""
    for effect in program.effects:
        change = effect.change
        if not isinstance(change, PartOut):
            continue
        part = f"tube {change.tube}" if change.tube else counted(change.ballasts, "ballast")
        write = "; write the new tube with `fitted` and the same `place`" if change.tube else ""
        yield Errand.at(
            effect.first,
            ErrandKind.OUT,
            f"change-{effect.index + 1}",
            title=f"Out: {part} of {change.channel}",
            words=f"Without {part}, {change.channel} gives less light from {effect.first} on, and tables"
            f" do not make up for it by themselves. Replace what is out{write}. Unplug before you change it.",
        )


def _loads(program: Program) -> Iterator[Errand]:
    before = None
    for number, load in enumerate(program.loads, start=1):
        window, last = load_window(load[0], before), load[-1].span
        if window is not None and last is not None and load[0].span is not None:
            ids = load[0].channels if before is None else changed_channels(load[0], before)
            yield Errand(
                kind=ErrandKind.LOAD,
                what=f"tables-{load[0].span.first}",
                begin=window.begin,
                end=window.end,
                title=f"Load {number}: {and_list(list(ids))}",
                words=f"{counted(len(load), 'table')} {window.words}; up to {last.last}.",
            )
        before = load[-1]


def _fittings(program: Program) -> Iterator[Errand]:
    for load in program.loads:
        for each in fittings(program, load):
            begin = each.at if each.at.time() != dt.time() else each.at.date()
            yield Errand.at(
                begin,
                ErrandKind.FIT,
                "+".join(each.tubes),
                title=f"Fit {and_list(each.tubes)}",
                words=f"{each.words[0].upper()}{each.words[1:]}. Unplug before you relamp.",
            )


def _burn_ins(program: Program) -> Iterator[Errand]:
    """Yield a stretch of dates for each burn-in of a channel."""
    for id in program.schedule.channels:
        for first, last, tables in _runs(program, id):
            start, stop = tables[0].plan.windows[id]
            times = f"{clock_text(start % SECONDS_PER_DAY)} to {clock_text(stop % SECONDS_PER_DAY)}"
            yield Errand(
                kind=ErrandKind.BURN_IN,
                what=id,
                begin=first,
                end=last,
                title=f"{id} burns in",
                words=f"{id} is at full from {times}, and dark otherwise. Watch the animals.",
            )


def _runs(program: Program, id: str) -> Iterator[tuple[dt.date, dt.date, list[Table]]]:
    """Yield the dates in a row on which a channel burns in, and their tables."""
    run: list[Table] = []
    for table in (*program.tables, None):
        if table is not None and id in table.plan.windows and table.span is not None:
            run.append(table)
            continue
        if run and run[0].span and run[-1].span:
            yield run[0].span.first, run[-1].span.last, run
        run = []


def _due(program: Program) -> Iterator[Errand]:
    assert program.span is not None
    for each in forecast(program):
        if each.first_due is None:
            continue
        date, reason = each.first_due
        if (each.left_on is not None and each.left_on <= date) or date > program.span.last:
            continue
        yield Errand.at(
            max(date, program.span.first),
            ErrandKind.DUE,
            each.tube.id,
            title=f"Tube {each.tube.id} is due",
            words=f"Tube {each.tube.id} of {each.channel} is due on {date} by its {reason}. Replace it."
            f" {WAYS_TO_REPLACE}.",
        )


def _readings(program: Program) -> Iterator[Errand]:
    """Yield when PPFD of a channel is to be read: after new tubes, and then from time to time."""
    assert program.span is not None
    first, last = program.span.first, program.span.last
    for id, channel in program.schedule.channels.items():
        if not channel.full_ppfd:
            continue
        known = [channel.measured_on] if channel.measured_on else []
        fresh = [date for date in _after_fittings(program, channel) if first <= date <= last]
        dates = sorted({*(date for date in known if date <= last), *fresh}) or [first]
        for at, following in pairwise([*dates, last + _DAY]):
            soon = following - dt.timedelta(days=NEW_TUBES_SOON_DAYS)
            for date in _every(at, following):
                if date > at and following in fresh and date >= soon:
                    continue  # it would be read twice
                if date >= first and date not in known:
                    yield _reading(
                        id, date, _why_read(channel, date, fresh, last, date == dates[0])
                    )


def _every(begin: dt.date, end: dt.date) -> Iterator[dt.date]:
    """Yield a date and those that follow it from time to time, before another one."""
    while begin < end:
        yield begin
        begin += dt.timedelta(days=READING_EVERY_DAYS)


def _after_fittings(program: Program, channel: Channel) -> Iterator[dt.date]:
    """Yield the dates on which new tubes of a channel are in and burned in."""
    runs = [(begin, end) for begin, end, _ in _runs(program, channel.id)]
    for tube in channel.tubes:
        if tube.fitted is None:
            continue
        date = tube.fitted.date() + _DAY
        later = [each.fitted.date() for each in channel.tubes if each.fitted]
        until = min((each for each in later if each >= date), default=dt.date.max)
        for begin, end in runs:  # a burn-in may wait, and light is that of burned-in tubes
            owes = tube.burn_in_full_hours > 0 and date <= begin < until
            if owes or begin <= date <= end + _DAY:
                date = end + _DAY
                break
        yield date


def _why_read(
    channel: Channel, date: dt.date, fresh: list[dt.date], last: dt.date, is_begin: bool
) -> str:
    """Return why PPFD is to be read on a date; only what is known of the reading before is told."""
    if date in fresh:
        return "its tubes are new"
    measured_on = channel.measured_on
    if is_begin and measured_on is None:
        return NO_DATE
    if is_begin and measured_on is not None and measured_on > last:
        return f"its reading is of a later date, {measured_on}"
    return DAYS_PASSED


def _reading(id: str, date: dt.date, why: str) -> Errand:
    return Errand.at(
        date,
        ErrandKind.READING,
        id,
        title=f"Read PPFD of {id}",
        words=reading_words([id], why),
        why=why,
    )


def reading_words(ids: Sequence[str], why: str) -> str:
    """Return what to do, in full, to read PPFD of some channels."""
    return (
        f"Read PPFD of {and_list(list(ids))} in each zone, at full and alone, because {why}. Measure warm,"
        " after half an hour, with the fans as they will run, and enter `measured_on`."
    )


def _held(program: Program) -> Iterator[Errand]:
    for id in program.schedule.channels:
        short = next((table for table in program.tables if id in table.short), None)
        if short is not None and short.span is not None:
            date = short.span.first
            yield Errand.at(
                date,
                ErrandKind.HELD,
                id,
                title=f"Light of {id} can't be held any more",
                words=f"From {date} on the dose of {id} is below what `hold_light` allows: replace tubes"
                " before.",
            )


def _steps(program: Program) -> Iterator[Errand]:
    """Yield each step of an acclimation: its table is a load, and animals are to be watched."""
    span = program.span
    assert span is not None
    for effect in program.effects:
        change = effect.change
        if not isinstance(change, Acclimation):
            continue
        names = and_list(list(change.channels))
        for step, date in enumerate(change.begins()):
            if span.first <= date <= span.last:
                share = f"{number_text(change.share_of(step) * 100, 1)} %"
                yield Errand.at(
                    date,
                    ErrandKind.STEP,
                    f"change-{effect.index + 1}",
                    title=f"Acclimation: {share}",
                    words=f"From {date} on {names} give {share} of the plan's dose, step {step + 1} of"
                    f" {change.steps}. Watch the animals before the next one.",
                )


def _clocks(program: Program) -> Iterator[Errand]:
    for name, change in program.clock_changes:
        date = change.at.date()
        minutes = (change.after_s - change.before_s) // 60
        way = "forward" if minutes > 0 else "back"
        yield Errand.at(
            date,
            ErrandKind.CLOCK,
            name,
            title=f"The {name}'s clock goes {way}",
            words=f"On {change.at:%Y-%m-%d at %H:%M} UTC the {name}'s clock goes {way} by"
            f" {abs(minutes)} min.",
        )


def _compile(program: Program, last: dt.date) -> Errand:
    return Errand.at(
        last,
        ErrandKind.COMPILE,
        "tables",
        title="The tables end",
        words=f"The tables end with {last}: compile for the dates after it before then.",
    )
