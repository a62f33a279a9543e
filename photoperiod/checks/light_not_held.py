"""The light of a channel is to be held, and its tubes have faded so far that it can't be."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def light_not_held(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that is held, with the first date on which it can't be."""
    for id, channel in program.schedule.channels.items():
        tables = [table for table in program.tables if id in table.short]
        if not tables or tables[0].span is None or channel.held_within is None:
            continue
        least = min(t.channels[id].held * t.channels[id].brightness_at_end for t in tables)
        yield on_value(
            "PHO450",
            (*channel.path, "hold_light"),
            f"the light of channel '{id}' can't be held from {tables[0].span.first} on: with its levels at"
            f" the top it falls to {number_text(least * 100, 1)} % of the plan's dose within these dates,"
            f" below {number_text((1 - channel.held_within) * 100, 1)} %",
            help="replace tubes before that date, by halves; or plan a lower peak, so that there is room"
            " above it",
        )
