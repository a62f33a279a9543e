"""A zone gets more light than its `ppfd_max`."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.drive.zone_light import PPFD_SLACK
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
        shares = z.shares_at(z.peak_second)
        strongest = max(shares, key=lambda name: shares[name])
        yield on_value(
            "PHO402",
            (*z.zone.path, "ppfd_max"),
            f"zone '{id}' gets {number_text(z.peak_ppfd, 1)} µmol m⁻² s⁻¹ at"
            f" {clock_text(z.peak_second)}, over its limit of {number_text(limit)} from"
            f" {clock_text(first)} on, for {hours_text(over_s)} a day",
            help=f"lower the peaks of the channels that light it, first that of '{strongest}'",
            related=(
                Related(message="gives most of it", path=program.channels[strongest].channel.path),
            ),
        )
