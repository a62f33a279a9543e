"""``typing-sheet.txt``: the rows to type in by hand, channel by channel, with boxes to tick."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.diagnostics.unguarded import unguarded_line
from photoperiod.formats.cautions import cautions_of
from photoperiod.formats.row_text import accepted, setpoints
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.loads import changed_channels, fittings, load_by
from photoperiod.program.model import ControllerTable, Program
from photoperiod.schedule.found_text import found_sentences
from photoperiod.schedule.guards import not_guarded
from photoperiod.text import clock_text, number_text, safe
from photoperiod.units import SECONDS_PER_DAY

FILE_NAME = "typing-sheet.txt"

_WIDTH = 78


def render_files(program: Program, findings: Sequence[Diagnostic]) -> dict[str, bytes]:
    """Return a sheet for each load, by file name; with several, the date stands in the name."""
    loads = program.loads
    before: ControllerTable | None = None
    files: dict[str, bytes] = {}
    for number, load in enumerate(loads, start=1):
        after = loads[number][0].span if number < len(loads) else None
        files[_name(load, len(loads))] = _sheet(program, load, before, after, findings)
        before = load[-1]
    return files


def _name(load: tuple[ControllerTable, ...], loads: int) -> str:
    if loads == 1 or load[0].span is None:
        return FILE_NAME
    return f"typing-sheet-{load[0].span.first}.txt"


def _sheet(
    program: Program,
    load: tuple[ControllerTable, ...],
    before: ControllerTable | None,
    after: DateSpan | None,
    findings: Sequence[Diagnostic],
) -> bytes:
    """Return the sheet of a load.

    ``before`` is the last table of the load before, and ``after`` the dates of the first table of the next.
    """
    schedule = program.schedule
    controller = schedule.controller
    lines = [safe(schedule.title), ""]
    first, last = load[0].span, load[-1].span
    if first is None or last is None:
        lines += ["Load once; these rows have no date."]
    else:
        text = f"Load {load_by(load[0], before)}; it holds up to {last.last}."
        lines += textwrap.wrap(text, _WIDTH)
        lines += [
            f"The next sheet is for {after.first}."
            if after is not None
            else "After that date the table goes on as it is. Compile again before then."
        ]
    lines += [
        f"Times are on the controller's clock ({controller.clock} time).",
        f"Between rows the controller goes by: {controller.times.between};"
        f" after the last row: {controller.times.after_last_row}.",
        "",
    ]
    for sentence in found_sentences(schedule.found) if schedule.found else ():
        text = f"{sentence[0].upper()}{sentence[1:]}."
        lines += [*textwrap.wrap(text, _WIDTH), ""]
    for fitting in fittings(program, load):
        text = f"{fitting.words[0].upper()}{fitting.words[1:]}. Unplug before relamping."
        lines += [*textwrap.wrap(text, _WIDTH), ""]
    for sheet in load:
        if len(load) > 1 and sheet.span:
            lines += [f"TABLE FROM {sheet.span.first} TO {sheet.span.last}", ""]
        for id, (start, stop) in sheet.tables[0].plan.windows.items():
            begin, end = (clock_text(second % SECONDS_PER_DAY) for second in (start, stop))
            lines += [
                f"Tubes burn in: channel {id} is undimmed from {begin} to {end}, else dark.",
                "",
            ]
        changed = sheet.channels if before is None else changed_channels(sheet, before)
        for id, c in sheet.channels.items():
            lines += _channel(program, id, c, None if id in changed else before)
        before = sheet
    for item in accepted(findings):
        text = f"ACCEPTED: {safe(item['message'])}. Because: {safe(item['because'])}"
        lines += [*textwrap.wrap(text, _WIDTH), ""]
    unguarded = unguarded_line(not_guarded(schedule))
    if unguarded:
        text = unguarded.replace("not guarded", "NOT GUARDED", 1)
        lines += [*textwrap.wrap(safe(text), _WIDTH), ""]
    lines += ["When all is typed, read every row back. Then watch the first dawn and dusk.", ""]
    lines += ["Cautions"]
    for caution in cautions_of(program.schedule):
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return ("\n".join(lines) + "\n").encode()


def _channel(
    program: Program, id: str, c: ChannelDay, same_as: ControllerTable | None
) -> list[str]:
    """Return the rows of a channel; ``same_as`` is the table before, where it has the same rows.

    A controller that holds one table still has these rows then: there is nothing to type.
    """
    rows = setpoints(program, c)
    has_relay = any(row.relay for row in rows)
    is_there = same_as is not None and program.schedule.controller.tables == 1
    label = "" if c.channel.label == id else f" ({safe(c.channel.label)})"
    held = program.schedule.controller.setpoints_per_channel
    lines = [f"Channel {id}{label}: {len(rows)} of {held} rows"]
    if is_there:
        lines += ["NOT CHANGED since the load before: nothing to type."]
    elif same_as is not None and same_as.span is not None:
        lines += [f"The same rows as in the table from {same_as.span.first}."]
    head = "  row  time      level    volts" + ("   relay" if has_relay else "")
    lines += ["", head + ("" if is_there else "   typed")]
    for number, row in enumerate(rows, start=1):
        line = f"  {number:>3}  {row.time:<8}  {number_text(row.level_percent, 3):>5} %  {row.volts:6.3f}"
        if has_relay:
            line += f"   {row.relay:<5}"
        lines.append(line.rstrip() if is_there else f"{line}   [   ]")
    return [*lines, ""]
