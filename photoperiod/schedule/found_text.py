"""What was found for the doses that zones ask for: in sentences, and as lines to paste into the file."""

from __future__ import annotations

from photoperiod.curves.shapes import Shape
from photoperiod.schedule.day_plan import ClockTime, Ramps, TimeOfDay
from photoperiod.schedule.moves import Found, FoundDay, FoundDose, FoundRows
from photoperiod.text import clock_text, counted, number_text
from photoperiod.units import SECONDS_PER_MINUTE

#: Light of a peak is written with so many decimals of a percent at most.
LIGHT_DECIMALS = 4

#: Light with more decimals than these has them because rounded light would give another table.
PLAIN_DECIMALS = 2


def found_sentences(found: Found) -> list[str]:
    """Return what was found, a sentence for each zone and for each channel whose day or rows are others."""
    days = [_day_words(each) for each in found.days]
    rows = [_rows_words(each) for each in found.rows]
    if not days:
        days = ["the days of the file give these doses" + ("" if rows else ": nothing was changed")]
    when = " on dates on which no change acts" if found.is_beside_changes else ""
    return [_dose_words(each) + when for each in found.doses] + days + rows


def lines_to_paste(found: Found) -> list[str]:
    """Return the days that are others now, as they are written in the file; none if all stay."""
    lines = ["channels:"] if found.days else []
    for each in found.days:
        lines += [f"  {each.channel}:", "    day:", *_day_lines(each.found)]
    return lines


def has_fine_light(found: Found) -> bool:
    """Return whether a day that is another one now has light that must be typed with all its decimals."""
    return any(
        number_text(peak.light * 100, LIGHT_DECIMALS)
        != number_text(peak.light * 100, PLAIN_DECIMALS)
        for each in found.days
        for peak in each.found.peaks
    )


def _dose_words(each: FoundDose) -> str:
    low, high = (number_text(bound, 4) for bound in each.wanted)
    asked = f"{low} ± {number_text(each.within, 3)}" if low == high else f"{low} to {high}"
    return f"zone {each.zone} asks for {asked} mol m⁻² d⁻¹ and gets {number_text(each.dose, 3)}"


def _day_words(each: FoundDay) -> str:
    """Return how a day was changed: its brightest peak, and its ends."""
    before, now = (max(p.light for p in day.peaks) * 100 for day in (each.asked, each.found))
    words = [f"peak {number_text(now)} % (file: {number_text(before)} %)"]
    spans = [
        f"{_time(day.dawn.start)} to {_time(day.dusk.end)}" for day in (each.asked, each.found)
    ]
    if spans[0] != spans[1]:
        words.append(f"lit from {spans[1]} (file: {spans[0]})")
    return f"channel {each.channel}: {', '.join(words)}"


def _rows_words(each: FoundRows) -> str:
    """Return how many rows of a table were moved."""
    return (
        f"channel {each.channel}: {counted(each.count, 'row')} of its table moved a little, within the error"
        " of the best table (this comes by itself as long as the zone asks for its dose)"
    )


def _day_lines(day: Ramps) -> list[str]:
    dawn, dusk = day.dawn, day.dusk
    lines = ["      kind: ramps"]
    if day.ends_next_day:
        lines.append("      ends_next_day: true")
    length = _length(dawn.length_s) or f"end: {_time(dawn.end)}"
    lines.append(f"      dawn: {{start: {_time(dawn.start)}, {length}{_shape(dawn.shape)}}}")
    lines.append("      peaks:")
    for peak in day.peaks:
        keys = [] if peak.ramp_start is None else [f"from: {_time(peak.ramp_start)}"]
        keys += [] if peak.ramp_s is None else [_length(peak.ramp_s)]
        keys.append(f"light_percent: {number_text(peak.light * 100, LIGHT_DECIMALS)}")
        lines.append(f"        - {{{', '.join(keys)}{_shape(peak.shape)}}}")
    length = _length(dusk.length_s) or f"start: {_time(dusk.start)}"
    lines.append(f"      dusk: {{end: {_time(dusk.end)}, {length}{_shape(dusk.shape)}}}")
    return lines


def _time(time: TimeOfDay | None) -> str:
    assert isinstance(time, ClockTime), "what may move goes by the clock"
    return clock_text(time.second)


def _length(length_s: int | None) -> str:
    if length_s is None:
        return ""
    return f"minutes: {number_text(length_s / SECONDS_PER_MINUTE, LIGHT_DECIMALS)}"


def _shape(shape: Shape | None) -> str:
    return "" if shape in (None, Shape.LINEAR) else f", shape: {shape}"
