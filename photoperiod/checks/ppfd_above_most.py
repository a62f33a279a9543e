"""A zone gets more light than its `ppfd_max`."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.channel_day import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text


def ppfd_above_most(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone over its limit, with the channel that gives most at the peak."""
    for id, z in program.zones.items():
        limit = z.zone.ppfd_max
        if limit is None or z.peak_ppfd <= limit + PPFD_SLACK:
            continue
        over_s = int((z.ppfd > limit + PPFD_SLACK).sum())
        first = int((z.ppfd > limit + PPFD_SLACK).argmax())
        # What a channel gives at full here already counts the loss of its tubes.
        strongest, _ = max(
            z.sources, key=lambda source: source[0].replay.light[z.peak_second] * source[1]
        )
        yield on_value(
            "PHO402",
            (*z.zone.origin, "ppfd_max"),
            f"zone '{id}' gets {number_text(z.peak_ppfd, 1)} µmol m⁻² s⁻¹ at"
            f" {clock_text(z.peak_second)}, over its limit of {number_text(limit)} from"
            f" {clock_text(first)} on, for {hours_text(over_s)} a day",
            help="lower the peaks of the channels that light it, first that of"
            f" '{strongest.channel.id}'",
            related=(Related(message="gives most of it", path=strongest.channel.origin),),
        )
