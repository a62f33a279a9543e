"""More light than a zone may get."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.channel_day import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text

CODE = "PHO402"
TITLE = "no zone gets more than its ppfd_max at any second"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone over its limit."""
    for id, z in program.zones.items():
        limit = z.zone.ppfd_max
        if limit is None or z.peak_ppfd <= limit + PPFD_SLACK:
            continue
        over_s = int((z.ppfd > limit + PPFD_SLACK).sum())
        first = int((z.ppfd > limit + PPFD_SLACK).argmax())
        strongest = max(
            program.channels.values(),
            key=lambda c: c.replay.light[z.peak_second] * c.channel.full_ppfd.get(id, 0.0),
        )
        yield Diagnostic(
            code=CODE,
            path=(*z.zone.origin, "ppfd_max"),
            message=f"zone '{id}' gets {number_text(z.peak_ppfd, 1)} µmol m⁻² s⁻¹ at"
            f" {clock_text(z.peak_second)}, over its limit of {number_text(limit)} from"
            f" {clock_text(first)} on, for {hours_text(over_s)} a day",
            help="lower the peaks of the channels that light it, '"
            + strongest.channel.id
            + "' first",
            related=(Related(message="gives most of it", path=strongest.channel.origin),),
        )
