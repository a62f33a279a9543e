"""``typing-sheet.txt``: the rows to type in by hand, channel by channel, with boxes to tick."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from photoperiod.cautions import CAUTIONS
from photoperiod.diagnostics import Diagnostic
from photoperiod.export.parts import accepted, setpoints
from photoperiod.program import ChannelProgram, Program
from photoperiod.safe import safe
from photoperiod.units import number_text

FILE_NAME = "typing-sheet.txt"

_WIDTH = 78


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the sheet."""
    schedule, span = program.schedule, program.span
    controller = schedule.controller
    lines = [safe(schedule.title), ""]
    if span is None:
        lines += ["Load once; these rows have no date."]
    else:
        lines += [
            f"Load on {span.first} before the first light; compiled up to {span.last}.",
            "After that date the table goes on as it is. Compile again before then.",
        ]
    lines += [
        f"Times are on the controller's clock ({controller.clock} time).",
        f"Between rows the controller goes by: {controller.times.between};"
        f" after the last row: {controller.times.after_last_row}.",
        "",
    ]
    for id, c in program.channels.items():
        lines += _channel(program, id, c)
    for item in accepted(findings):
        text = f"ACCEPTED: {safe(item['message'])}. Because: {safe(item['because'])}"
        lines += [*textwrap.wrap(text, _WIDTH), ""]
    lines += ["When all is typed, read every row back. Then watch the first dawn and dusk.", ""]
    lines += ["Cautions"]
    for caution in CAUTIONS:
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return ("\n".join(lines) + "\n").encode()


def _channel(program: Program, id: str, c: ChannelProgram) -> list[str]:
    rows = setpoints(program, c)
    has_relay = any(row.relay for row in rows)
    label = "" if c.channel.label == id else f" ({safe(c.channel.label)})"
    lines = [
        f"Channel {id}{label}: {len(rows)} of {program.schedule.controller.setpoints_per_channel} rows",
        "",
        "  row  time      level    volts" + ("   relay" if has_relay else "") + "   typed",
    ]
    for number, row in enumerate(rows, start=1):
        line = f"  {number:>3}  {row.time:<8}  {number_text(row.level_percent, 3):>5} %  {row.volts:6.3f}"
        if has_relay:
            line += f"   {row.relay:<5}"
        lines.append(f"{line}   [   ]")
    return [*lines, ""]
